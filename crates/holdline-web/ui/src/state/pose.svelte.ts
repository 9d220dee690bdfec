// The pose in hand: asked as it moves, drawn as it is answered.
import { tick } from 'svelte';
import { post } from '../api/client';
import type { Fault, PoseAnswer, PoseAsk, SdPair, Stand, ViewSize } from '../api/types';
import { latest } from '../lib/latest';
import { view_of } from '../lib/view';
import { choice } from './choice.svelte';
import { faults_of } from './session.svelte';

class Pose {
  joints_deg: Record<string, number> = $state({});
  pitch_deg = $state(0);
  roll_deg = $state(0);
  heading_deg = $state(0);
  mode: '2d' | '3d' = $state('2d');
  stand: Stand | null = $state(null);
  bench_height: number | null = $state(null);
  bench_sd_m: number | null = $state(null);
  position_sd_m: SdPair = $state({ h: null, v: null });
  heading_sd_deg: number | null = $state(null);
  view: { section: ViewSize; plan: ViewSize } = $state({
    section: { w_mm: 130, h_mm: 95 },
    plan: { w_mm: 60, h_mm: 55 },
  });
  /** As the server gave it: replaced whole, never changed. */
  answer: PoseAnswer | null = $state.raw(null);
  faults: Fault[] = $state.raw([]);
  drawn_ms: number | null = $state(null);
}

export const pose = new Pose();

export function pose_ask(): PoseAsk {
  return {
    ...$state.snapshot(choice.tool),
    joints_deg: $state.snapshot(pose.joints_deg),
    pitch_deg: pose.pitch_deg,
    roll_deg: pose.roll_deg,
    heading_deg: pose.heading_deg,
    mode: pose.mode,
    stand: pose.mode === '3d' ? $state.snapshot(pose.stand) : null,
    bench_height: pose.bench_height,
    bench_sd_m: pose.bench_sd_m,
    position_sd_m: $state.snapshot(pose.position_sd_m),
    heading_sd_deg: pose.heading_sd_deg,
    view: $state.snapshot(pose.view),
  };
}

interface Timed {
  ask: PoseAsk;
  touched_at: number;
}

const send = latest<Timed, PoseAnswer>(
  ({ ask }) => post<PoseAnswer>('/api/pose', ask),
  async (answer, { touched_at }) => {
    pose.answer = answer;
    pose.faults = [];
    await tick(); // the drawing is in the page now; the browser paints it in this frame
    const now = performance.now();
    pose.drawn_ms = now - touched_at;
    performance.clearMeasures('pose-drawn');
    performance.measure('pose-drawn', { start: touched_at, end: now });
  },
  (why) => {
    pose.faults = faults_of(why);
  },
);

/** Asks for the pose in hand. Call it in the event that changed something. */
export function show_pose(): void {
  if (choice.tool.machine === '' || choice.tool.bucket === '') return;
  send({ ask: pose_ask(), touched_at: performance.now() });
}

/** A drawing's place on the screen has this size now. */
export function fit_view(which: 'section' | 'plan', wide_px: number, high_px: number): void {
  const size = view_of(wide_px, high_px);
  if (!size) return;
  const before = pose.view[which];
  if (before.w_mm === size.w_mm && before.h_mm === size.h_mm) return;
  pose.view[which] = size;
  show_pose();
}

export function move_joint(name: string, deg: number): void {
  pose.joints_deg[name] = deg;
  show_pose();
}

export function forget_pose(): void {
  pose.joints_deg = {};
  pose.answer = null;
  pose.faults = [];
}
