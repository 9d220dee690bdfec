// Which machine, coupler, bucket and tooth point are in hand: one choice for every step.
import type { Parts, Tool } from '../api/types';

export const choice: { tool: Tool; machine_name: string; parts: Parts } = $state({
  tool: { machine: '', coupler: null, tilt: null, bucket: '', tooth: '', calibration: null },
  machine_name: '',
  parts: { couplers: [], tilts: [], buckets: [] },
});

export function teeth_of(bucket: string): string[] {
  return choice.parts.buckets.find((b) => b.id === bucket)?.teeth ?? [];
}

/** Takes a sheet's parts; keeps what was chosen where the sheet still has it. */
export function take_parts(parts: Parts): void {
  choice.parts = parts;
  const tool = choice.tool;
  if (tool.coupler !== null && !parts.couplers.includes(tool.coupler)) tool.coupler = null;
  if (tool.tilt !== null && !parts.tilts.includes(tool.tilt)) tool.tilt = null;
  if (!parts.buckets.some((b) => b.id === tool.bucket)) {
    tool.bucket = parts.buckets[0]?.id ?? '';
    tool.coupler = parts.couplers[0] ?? null;
  }
  if (!teeth_of(tool.bucket).includes(tool.tooth)) {
    const teeth = teeth_of(tool.bucket);
    tool.tooth = teeth.includes('centre') ? 'centre' : (teeth[0] ?? '');
  }
}

export function forget_choice(): void {
  choice.tool = { machine: '', coupler: null, tilt: null, bucket: '', tooth: '', calibration: null };
  choice.machine_name = '';
  choice.parts = { couplers: [], tilts: [], buckets: [] };
}
