// A slider over a joint's stroke: tenths of a degree between, the very ends at the ends.

const TENTHS = 10;
const ARROW_DEG = 0.5;
const PAGE_DEG = 5;

/** The angle that a slider's place means. */
export function slid_deg(raw_deg: number, min_deg: number, max_deg: number): number {
  const half_deg = 0.5 / TENTHS;
  if (raw_deg <= min_deg + half_deg) return min_deg;
  if (raw_deg >= max_deg - half_deg) return max_deg;
  return Math.round(raw_deg * TENTHS) / TENTHS;
}

/** The angle after a key, or null where the key does not move a slider. */
export function keyed_deg(
  key: string,
  deg: number,
  min_deg: number,
  max_deg: number,
): number | null {
  switch (key) {
    case 'ArrowRight':
    case 'ArrowUp':
      return slid_deg(deg + ARROW_DEG, min_deg, max_deg);
    case 'ArrowLeft':
    case 'ArrowDown':
      return slid_deg(deg - ARROW_DEG, min_deg, max_deg);
    case 'PageUp':
      return slid_deg(deg + PAGE_DEG, min_deg, max_deg);
    case 'PageDown':
      return slid_deg(deg - PAGE_DEG, min_deg, max_deg);
    case 'Home':
      return min_deg;
    case 'End':
      return max_deg;
    default:
      return null;
  }
}
