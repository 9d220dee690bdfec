// Drawings come from our own server and are still taken in with care.

const NOT_DRAWING = 'script, foreignObject, iframe, style, a, animate, set';

/** Reads an SVG into an element of this page; null if it is none. */
export function read_drawing(svg: string): SVGSVGElement | null {
  const read = new DOMParser().parseFromString(svg, 'image/svg+xml');
  const root = read.documentElement;
  if (root.nodeName !== 'svg') return null;
  for (const node of root.querySelectorAll(NOT_DRAWING)) node.remove();
  for (const node of root.querySelectorAll('*')) {
    for (const name of node.getAttributeNames()) {
      if (name.startsWith('on')) node.removeAttribute(name);
    }
  }
  root.removeAttribute('width');
  root.removeAttribute('height');
  return document.importNode(root, true) as unknown as SVGSVGElement;
}
