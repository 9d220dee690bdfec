// The machine as hidden-line drawing in space: paper faces, ink edges, no lamps.
// Coordinates are the machine's own (origin on the swing axis): 32-bit floats hold millimetres.
import {
  BackSide,
  Box3,
  BufferGeometry,
  Color,
  EdgesGeometry,
  GridHelper,
  Group,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshBasicMaterial,
  Object3D,
  OrthographicCamera,
  PropertyBinding,
  Scene as Space,
  ShaderMaterial,
  Vector3,
  WebGLRenderer,
} from 'three';
import { GLTFLoader } from 'three/addons/loaders/GLTFLoader.js';
import { mergeVertices } from 'three/addons/utils/BufferGeometryUtils.js';

export interface Scene {
  load(glb: ArrayBuffer): Promise<void>;
  pose(links: { link: string; matrix: number[] }[]): void;
  light(style: CSSStyleDeclaration): void;
  key(name: string): boolean;
  close(): void;
}

const EDGE_DEG = 40;
const RIM_PX = 1.4;
/** Above this, a frame with this view in it would hold up the section. */
const DEAR_MS = 8;
const REST_MS = 120;
/** A little air round the machine; while it moves, the view stays until the machine leaves it. */
const ROOM = 1.08;

/** A scene on the canvas, or null where the browser has no WebGL. */
export function make_scene(canvas: HTMLCanvasElement): Scene | null {
  let renderer: WebGLRenderer;
  try {
    renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true });
  } catch {
    return null;
  }
  const space = new Space();
  const camera = new OrthographicCamera();
  camera.up.set(0, 0, 1);
  const face = new MeshBasicMaterial({
    polygonOffset: true,
    polygonOffsetFactor: 1,
    polygonOffsetUnits: 1,
  });
  const edge = new LineBasicMaterial();
  const rim = rim_material();
  const ground = new LineBasicMaterial({ transparent: true, opacity: 0.45 });
  let model: Object3D = new Group();
  let parts = new Map<string, Object3D>();
  let front = new Group();
  let turn_rad = -0.9;
  let tilt_rad = 0.42;
  let asked = 0;
  let fit: Seen | null = null;
  let cost_ms = 0;
  let resting: ReturnType<typeof setTimeout> | undefined;

  const grid = new GridHelper(24, 12);
  grid.rotation.x = Math.PI / 2;
  grid.material = ground;
  space.add(grid);

  function draw(): void {
    asked = 0;
    const wide = canvas.clientWidth;
    const high = canvas.clientHeight;
    if (wide === 0 || high === 0) return;
    renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    renderer.setSize(wide, high, false);
    const around = new Box3().setFromObject(front);
    const seen = seen_from(around, turn_rad, tilt_rad);
    if (!fit || seen.reaches > fit.reaches) fit = { ...seen, reaches: seen.reaches * ROOM };
    frame(camera, fit, wide / high, turn_rad, tilt_rad);
    rim.uniforms['out_m']!.value = ((camera.top - camera.bottom) / high) * RIM_PX;
    const began_ms = performance.now();
    renderer.render(space, camera);
    after_this_frame(() => {
      cost_ms = performance.now() - began_ms;
    });
  }
  /** A node of the model is a link of the machine; what hangs under it moves with it. */
  function take_part(link: string): Object3D | undefined {
    const part = model.getObjectByName(PropertyBinding.sanitizeNodeName(link));
    if (!part) return undefined;
    part.matrixAutoUpdate = false;
    ink(part, face, edge, rim);
    fit = null;
    front.add(part);
    parts.set(link, part);
    return part;
  }
  const ask = (): void => {
    if (asked === 0) asked = requestAnimationFrame(draw);
  };
  /** While joints move, a view that is dear to draw waits until they rest; the section does not. */
  const ask_moving = (): void => {
    clearTimeout(resting);
    if (cost_ms < DEAR_MS) ask();
    else resting = setTimeout(ask, REST_MS);
  };
  const watch = new ResizeObserver(ask);
  watch.observe(canvas);
  const let_go = drag_to_turn(canvas, (across, up) => {
    fit = null;
    turn_rad -= across * 0.008;
    tilt_rad = within_tilt(tilt_rad + up * 0.008);
    ask();
  });

  return {
    async load(glb) {
      model = (await new GLTFLoader().parseAsync(glb, '')).scene;
      space.remove(front);
      front = new Group();
      parts = new Map();
      space.add(front);
    },
    pose(links) {
      for (const { link, matrix } of links) {
        const part = parts.get(link) ?? take_part(link);
        if (!part) continue;
        part.matrix.fromArray(matrix); // column by column, as the server sends it
        part.matrixWorldNeedsUpdate = true;
      }
      ask_moving();
    },
    light(style) {
      face.color = new Color(style.getPropertyValue('--desk').trim());
      (rim.uniforms['ink']!.value as Color).set(style.getPropertyValue('--ink').trim());
      edge.color = new Color(style.getPropertyValue('--ink').trim());
      ground.color = new Color(style.getPropertyValue('--soft').trim());
      ask();
    },
    key(name) {
      const step = {
        ArrowLeft: [-0.12, 0],
        ArrowRight: [0.12, 0],
        ArrowUp: [0, 0.12],
        ArrowDown: [0, -0.12],
      }[name];
      if (!step) return false;
      fit = null;
      turn_rad += step[0] ?? 0;
      tilt_rad = within_tilt(tilt_rad + (step[1] ?? 0));
      ask();
      return true;
    },
    close() {
      watch.disconnect();
      let_go();
      cancelAnimationFrame(asked);
      clearTimeout(resting);
      renderer.dispose();
    },
  };
}

/** Runs when the browser has painted the frame that is being made. */
function after_this_frame(then: () => void): void {
  const channel = new MessageChannel();
  channel.port1.onmessage = then;
  channel.port2.postMessage(0);
}

const within_tilt = (rad: number): number => Math.min(1.5, Math.max(-0.1, rad));

/** Gives every face the steel, every sharp edge a line, and every round part a rim of ink. */
function ink(
  part: Object3D,
  face: MeshBasicMaterial,
  edge: LineBasicMaterial,
  rim: ShaderMaterial,
): void {
  const meshes: Mesh<BufferGeometry>[] = [];
  part.traverse((o) => {
    if (o instanceof Mesh) meshes.push(o as Mesh<BufferGeometry>);
  });
  for (const mesh of meshes) {
    mesh.material = face;
    const bare = new BufferGeometry();
    bare.setAttribute('position', mesh.geometry.getAttribute('position'));
    bare.setIndex(mesh.geometry.getIndex());
    const whole = mergeVertices(bare, 1e-5);
    whole.computeVertexNormals();
    mesh.add(new LineSegments(new EdgesGeometry(whole, EDGE_DEG), edge), new Mesh(whole, rim));
  }
}

/** The back faces, a little larger, in ink: what shows of them is the outline. */
function rim_material(): ShaderMaterial {
  return new ShaderMaterial({
    side: BackSide,
    uniforms: { ink: { value: new Color() }, out_m: { value: 0 } },
    vertexShader: `uniform float out_m;
      void main() {
        gl_Position = projectionMatrix * modelViewMatrix * vec4(position + normal * out_m, 1.0);
      }`,
    fragmentShader: `uniform vec3 ink;
      void main() { gl_FragColor = linearToOutputTexel(vec4(ink, 1.0)); }`,
  });
}

/** Middle of what is seen, and how far it reaches to the sides and up; metres. */
interface Seen {
  centre: Vector3;
  half_wide: number;
  half_high: number;
  reaches: number;
}

function seen_from(box: Box3, turn: number, tilt: number): Seen {
  if (box.isEmpty()) {
    return { centre: new Vector3(2, 0, 2), half_wide: 5, half_high: 4, reaches: 0 };
  }
  const centre = box.getCenter(new Vector3());
  const right = new Vector3(-Math.sin(turn), Math.cos(turn), 0);
  const up = new Vector3(
    -Math.sin(tilt) * Math.cos(turn),
    -Math.sin(tilt) * Math.sin(turn),
    Math.cos(tilt),
  );
  const half = box.getSize(new Vector3()).divideScalar(2);
  const along = (axis: Vector3): number =>
    Math.abs(axis.x) * half.x + Math.abs(axis.y) * half.y + Math.abs(axis.z) * half.z;
  return { centre, half_wide: along(right), half_high: along(up), reaches: half.length() };
}

function frame(
  camera: OrthographicCamera,
  { centre, half_wide, half_high }: Seen,
  aspect: number,
  turn: number,
  tilt: number,
): void {
  const high = Math.max(half_high, half_wide / aspect) * ROOM;
  camera.top = high;
  camera.bottom = -high;
  camera.left = -high * aspect;
  camera.right = high * aspect;
  camera.near = 0;
  camera.far = 200;
  camera.position.set(
    centre.x + 80 * Math.cos(tilt) * Math.cos(turn),
    centre.y + 80 * Math.cos(tilt) * Math.sin(turn),
    centre.z + 80 * Math.sin(tilt),
  );
  camera.lookAt(centre);
  camera.updateProjectionMatrix();
}

function drag_to_turn(
  canvas: HTMLCanvasElement,
  on_move: (across: number, up: number) => void,
): () => void {
  let from: { x: number; y: number } | null = null;
  const down = (e: PointerEvent): void => {
    from = { x: e.clientX, y: e.clientY };
    canvas.setPointerCapture(e.pointerId);
  };
  const move = (e: PointerEvent): void => {
    if (!from) return;
    on_move(e.clientX - from.x, e.clientY - from.y);
    from = { x: e.clientX, y: e.clientY };
  };
  const up = (): void => {
    from = null;
  };
  canvas.addEventListener('pointerdown', down);
  canvas.addEventListener('pointermove', move);
  canvas.addEventListener('pointerup', up);
  canvas.addEventListener('pointercancel', up);
  return () => {
    canvas.removeEventListener('pointerdown', down);
    canvas.removeEventListener('pointermove', move);
    canvas.removeEventListener('pointerup', up);
    canvas.removeEventListener('pointercancel', up);
  };
}
