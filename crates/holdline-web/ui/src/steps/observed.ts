// Observations typed by hand, as the rows of an observations document.
// What a row means is the program's to say; here it is only written down.

/** What each kind of observation needs typed, in the order of the form. */
export const KINDS = {
  shot: ['pose', 'stand', 'setup', 'target', 'easting_m', 'northing_m', 'elevation_m', 'sd_m'],
  level: ['pose', 'stand', 'setup', 'target', 'elevation_m', 'sd_m'],
  touch: ['pose', 'stand', 'target', 'mark', 'sd_m'],
  tape: ['target', 'to', 'length_m', 'sd_m'],
  slope: ['pose', 'target', 'to', 'angle_deg', 'sd_deg'],
  plumb: ['pose', 'target', 'to', 'sd_deg'],
  'house-turn': ['stand', 'turn_deg', 'sd_deg'],
} as const;

export type ObservedKind = keyof typeof KINDS;
export type ObservedField = (typeof KINDS)[ObservedKind][number];

export interface TypedObservation {
  kind: ObservedKind;
  name: string;
  fields: Partial<Record<ObservedField, string>>;
  /** Readings of the pose in degrees, as typed: `S-boom` → `21.35`. */
  readings: Record<string, string>;
}

/** What of an observation is written in words, and may hold anything. */
export const IN_WORDS: readonly ObservedField[] = [
  'pose',
  'stand',
  'setup',
  'target',
  'to',
  'mark',
];

const FIELDS: readonly ObservedField[] = [...new Set(Object.values(KINDS).flat())];

/** Whether a kind of observation has this to say; what it has not is left empty. */
function takes(kind: ObservedKind, field: ObservedField): boolean {
  return (KINDS[kind] as readonly ObservedField[]).includes(field);
}

/** A cell of a table with commas between: quoted where it must be. */
function cell(text: string): string {
  return /[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** The document that holds these observations. */
export function document_of(
  rows: TypedObservation[],
  head: { machine: string; coupler: string | null; bucket: string; by: string; with: string },
): string {
  const readings = [...new Set(rows.flatMap((row) => Object.keys(row.readings)))];
  const keys = [
    ['format', 'holdline.observations'],
    ['version', '1'],
    ['machine', head.machine],
    ...(head.coupler ? [['coupler', head.coupler]] : []),
    ['bucket', head.bucket],
  ];
  const header = ['name', 'kind', ...FIELDS, ...readings.map((r) => `${r}_deg`), 'by', 'instrument'];
  const lines = rows.map((row) => [
    row.name,
    row.kind,
    ...FIELDS.map((field) => (takes(row.kind, field) ? (row.fields[field] ?? '') : '')),
    ...readings.map((r) => row.readings[r] ?? ''),
    head.by,
    head.with,
  ]);
  return `${[...keys, header, ...lines].map((line) => line.map(cell).join(',')).join('\n')}\n`;
}
