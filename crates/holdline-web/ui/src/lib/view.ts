// How large a drawing is on paper if it fills its place on the screen.
import type { ViewSize } from '../api/types';

/** The least letter of a sheet, 9 pt, is drawn as 16 px. */
const PX_PER_MM = 16 / (9 * (25.4 / 72));
const LEAST_PX = 100;

/** Size on paper, or null where the place is too small to draw in. */
export function view_of(wide_px: number, high_px: number): ViewSize | null {
  if (wide_px < LEAST_PX || high_px < LEAST_PX) return null;
  return { w_mm: Math.floor(wide_px / PX_PER_MM), h_mm: Math.floor(high_px / PX_PER_MM) };
}
