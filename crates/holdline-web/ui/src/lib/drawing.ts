// Drawings come from our own server and are still taken in with care.

const NOT_DRAWING = 'script, foreignObject, iframe, style, a, animate, set';
/** Whatever could make a drawing act; a clean one has none of it, and is not searched node by node. */
const ACTS = /<(script|foreignObject|iframe|style|a|animate|set)[\s/>]|[\s"']on\w+\s*=/i;

/** Reads an SVG into an element of this page; null if it is none. */
export function read_drawing(svg: string): SVGSVGElement | null {
  const read = new DOMParser().parseFromString(svg, 'image/svg+xml');
  const root = read.documentElement;
  if (root.nodeName !== 'svg') return null;
  if (ACTS.test(svg)) clean(root);
  root.removeAttribute('width');
  root.removeAttribute('height');
  return document.adoptNode(root) as unknown as SVGSVGElement;
}

function clean(root: Element): void {
  for (const node of root.querySelectorAll(NOT_DRAWING)) node.remove();
  for (const node of [root, ...root.querySelectorAll('*')]) {
    for (const name of node.getAttributeNames()) {
      if (name.toLowerCase().startsWith('on')) node.removeAttribute(name);
    }
  }
}
