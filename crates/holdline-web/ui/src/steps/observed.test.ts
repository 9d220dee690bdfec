import { expect, test } from 'vitest';
import { document_of, KINDS, type TypedObservation } from './observed';

const HEAD = {
  machine: 'demo-23',
  coupler: 'QC-demo',
  bucket: 'T75',
  by: 'A. Example, surveyor',
  with: 'tape',
};

function table_of(text: string): string[][] {
  return text
    .trimEnd()
    .split('\n')
    .map((line) => line.split(','));
}

test('key lines come first, then one header, then one row an observation', () => {
  const rows: TypedObservation[] = [
    {
      kind: 'tape',
      name: 't1',
      fields: { target: 'pin A', to: 'pin B', length_m: '5.721', sd_m: '0.003' },
      readings: {},
    },
    {
      kind: 'plumb',
      name: 'p1',
      fields: { pose: 'a', target: 'pin B', to: 'pin C', sd_deg: '0.1' },
      readings: { 'S-boom': '21.3' },
    },
  ];
  const text = document_of(rows, { ...HEAD, by: 'A. Example' });
  const lines = table_of(text);
  expect(lines.slice(0, 5).map((line) => line[0])).toEqual([
    'format',
    'version',
    'machine',
    'coupler',
    'bucket',
  ]);
  const header = lines[5] ?? [];
  expect(lines).toHaveLength(8);
  expect(new Set(header).size).toBe(header.length);
  const cell = (row: number, name: string) => lines[row]?.[header.indexOf(name)];
  expect(cell(6, 'length_m')).toBe('5.721');
  expect(cell(6, 'S-boom_deg')).toBe('');
  expect(cell(7, 'S-boom_deg')).toBe('21.3');
  expect(cell(7, 'length_m')).toBe('');
  expect(cell(7, 'kind')).toBe('plumb');
});

test('a comma in a name keeps its cell together', () => {
  const row: TypedObservation = { kind: 'touch', name: 'h"1', fields: {}, readings: {} };
  const text = document_of([row], HEAD);
  expect(text).toContain('"A. Example, surveyor"');
  expect(text).toContain('"h""1"');
});

test('without a coupler no key line speaks of one', () => {
  expect(document_of([], { ...HEAD, coupler: null })).not.toContain('coupler');
});

test('every kind says how well it was measured', () => {
  for (const fields of Object.values(KINDS))
    expect(fields.some((f) => f === 'sd_m' || f === 'sd_deg')).toBe(true);
});
