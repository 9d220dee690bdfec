// What the server says and hears; the text of the contract is ../../../API.md.
// Figures arrive as ready text: this page formats and computes none.

export interface Fault {
  code: string;
  at: string;
  got?: string;
  want?: string;
  fix?: string;
  line?: number | null;
  column?: number | null;
}

export interface DocumentRow {
  hash: string;
  kind: string;
  name: string;
  number: number;
  added_at: string;
  bytes: number;
  current: boolean;
}

export interface Signature {
  name: string;
  role: string;
  at: string;
}

export interface RecordRow {
  seq: number;
  body_hash: string;
  kind: string;
  title: string;
  made_at: string;
  made_by: string;
  outcome: string;
  signatures: Signature[];
  superseded_by: number | null;
  stale: string | null;
}

export interface JobState {
  path: string;
  name: string;
  chain_tail: string;
  readonly: boolean;
  documents: DocumentRow[];
  records: RecordRow[];
}

export interface ServerState {
  version: string;
  program: string;
  job: JobState | null;
}

export interface FormField {
  path: string;
  label: string;
  unit: string;
  kind: 'number' | 'text' | 'choice';
  choices?: string[];
  value: number | string | null;
  sd: number | null;
  has_sd: boolean;
  needed: boolean;
  help: string;
}

export interface FormGroup {
  title: string;
  path: string;
  fields: FormField[];
}

/** What can be hung on the stick, by name. */
export interface Parts {
  couplers: string[];
  tilts: string[];
  buckets: { id: string; teeth: string[] }[];
}

export interface MachineForm {
  text: string;
  form: { groups: FormGroup[] };
  parts: Parts;
  faults: Fault[];
}

export interface Edit {
  path: string;
  value: number | string | null;
  sd: number | null;
}

export interface Figure {
  group?: string;
  label: string;
  text: string;
  value?: number | null;
  unit?: string;
  sd?: number | null;
  uncertainty_text: string;
}

export interface JointRow {
  name: string;
  label: string;
  deg: number;
  min_deg: number | null;
  max_deg: number | null;
  outside: boolean;
  limit_words?: string | null;
}

export interface Finding {
  code?: string;
  text: string;
  where?: string;
}

/** What hangs on the machine, and which point is the tooth. */
export interface Tool {
  machine: string;
  coupler: string | null;
  tilt: string | null;
  bucket: string;
  tooth: string;
  /** Hash of the calibration that is applied on top of the sheet; none: the sheet as measured. */
  calibration: string | null;
}

export interface Stand {
  e: number;
  n: number;
  u: number;
}

/** Standard uncertainties, each of E and N, and of U; null: not stated. */
export interface SdPair {
  h: number | null;
  v: number | null;
}

/** Size of a drawing on paper that fills its place on the screen with letters of 16 px. */
export interface ViewSize {
  w_mm: number;
  h_mm: number;
}

export interface PoseAsk extends Tool {
  joints_deg: Record<string, number>;
  pitch_deg: number;
  roll_deg: number;
  heading_deg: number;
  mode: '2d' | '3d';
  stand: Stand | null;
  bench_height: number | null;
  bench_sd_m: number | null;
  position_sd_m: SdPair;
  heading_sd_deg: number | null;
  view: { section: ViewSize; plan: ViewSize };
}

export interface PoseAnswer {
  figures: Figure[];
  joints: JointRow[];
  sheets: { section: string; plan: string };
  links: { link: string; matrix: number[] }[];
  findings: Finding[];
  uncertainty_words?: string[];
  /** Every tooth point, corner of the edge and end of the heel. */
  edge?: { name: string; text: string }[];
}

export interface ReachAsk extends PoseAsk {
  target: { x: number; z: number } | Stand;
  attitude_deg: number | null;
}

/** All of it is taken: on a leaning machine a swing changes pitch and roll. */
export interface ReachAnswer {
  joints_deg: Record<string, number>;
  heading_deg?: number;
  pitch_deg?: number;
  roll_deg?: number;
}

export interface Tolerance {
  up_m: number | null;
  down_m: number | null;
  plan_m: number | null;
}

export interface VerifyAnswer {
  result: VerifyResult;
  svg: string;
}

export interface VerifyResult {
  outcome: string;
  decision: string;
  summary: Figure[];
  columns: string[];
  rows: { label: string; cells: string[] }[];
  findings: Finding[];
  recheck: string[];
  cautions?: string[];
  diagnosis?: DiagnosisView | null;
}

/** What the shots say about what is off; it changes nothing. */
export interface DiagnosisView {
  outcome: string;
  words: string[];
  columns: string[];
  rows: { id: string; label: string; cells: string[]; in_set: boolean }[];
  rule_text: string;
  doubles: { label: string; cells: string[] }[];
  look_first: string[];
  next_shots: { joints_deg: Record<string, number>; heading_deg: number | null; words: string }[];
  not_tried: { what: string; needs: string }[];
  findings: Finding[];
  cautions: string[];
  sheets: { arrows: string; ranking: string };
}
