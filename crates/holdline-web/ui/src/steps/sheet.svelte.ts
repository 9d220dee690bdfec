// The machine sheet in hand: its text, its form, its faults, and what has been changed.
import { get, post } from '../api/client';
import type { Edit, Fault, FormField, FormGroup, MachineForm } from '../api/types';
import { latest } from '../lib/latest';
import { sheet_name } from '../lib/rows';
import { choice, take_parts } from '../state/choice.svelte';
import { forget_pose, show_pose } from '../state/pose.svelte';
import { faults_of, go, refresh, run, session } from '../state/session.svelte';
import { t } from '../words';

interface SheetState {
  hash: string;
  name: string;
  saved_text: string;
  text: string;
  groups: FormGroup[];
  faults: Fault[];
  changed: boolean;
  /** A change is on its way to the server; text and faults are those of before it. */
  asking: boolean;
}

export const sheet: SheetState = $state({
  hash: '',
  name: '',
  saved_text: '',
  text: '',
  groups: [],
  faults: [],
  changed: false,
  asking: false,
});

/** The text that the changed fields are changed in: as saved, or as typed and checked last. */
let base_text = '';
/** Fields changed since then, by path. */
const waiting = new Map<string, Edit>();

function take(answer: MachineForm): void {
  sheet.text = answer.text;
  sheet.groups = answer.form.groups;
  sheet.faults = answer.faults;
  sheet.changed = answer.text !== sheet.saved_text;
}

/** Opens the machine sheet with this hash, unless it is open. */
export async function open_sheet(hash: string): Promise<void> {
  if (hash === '' || sheet.hash === hash) return;
  const doc = session.server?.job?.documents.find((d) => d.hash === hash);
  waiting.clear();
  sheet.hash = hash;
  const name = doc?.name ?? '';
  if (name !== sheet.name) forget_pose(); // a new version of a machine keeps its pose
  sheet.name = name;
  choice.machine_name = sheet_name(sheet.name);
  choice.tool.machine = hash;
  try {
    const answer = await get<MachineForm>(`/api/machine/${hash}/form`);
    sheet.saved_text = answer.text;
    base_text = answer.text;
    take(answer);
    take_parts(answer.parts);
    show_pose();
  } catch (why) {
    session.faults = faults_of(why);
  }
}

/** The sensors on links that the sheet names; the house's own are read as pitch and roll. */
export function sensors_of(): string[] {
  return sheet.groups
    .flatMap((group) => group.fields)
    .flatMap((field) => {
      const id = /^sensor\[(.+)\]\.kind$/.exec(field.path)?.[1];
      return id && !String(field.value).startsWith('house') ? [id] : [];
    });
}

export function forget_sheet(): void {
  waiting.clear();
  Object.assign(sheet, { hash: '', name: '', saved_text: '', text: '', groups: [], faults: [] });
  sheet.changed = false;
}

interface EditAsk {
  text: string;
  edits: Edit[];
}

let last_ask: EditAsk | null = null;

const send_edit = latest<EditAsk, MachineForm>(
  (ask) => post<MachineForm>('/api/machine/edit', ask),
  (answer, ask) => {
    take(answer);
    sheet.asking = ask !== last_ask;
  },
  (why, ask) => {
    session.faults = faults_of(why);
    sheet.asking = ask !== last_ask;
  },
);

function ask_edit(ask: EditAsk): void {
  last_ask = ask;
  sheet.asking = true;
  send_edit(ask);
}

/** One field changed. Edits made while an answer is under way are kept and sent together. */
export function edit_field(field: FormField, change: Partial<Edit>): void {
  const before = waiting.get(field.path) ?? { path: field.path, value: field.value, sd: field.sd };
  waiting.set(field.path, { ...before, ...change });
  ask_edit({ text: base_text, edits: [...waiting.values()] });
}

export function check_text(text: string): void {
  waiting.clear();
  base_text = text;
  ask_edit({ text, edits: [] });
}

export function undo_changes(): void {
  check_text(sheet.saved_text);
}

export async function save_sheet(name: string): Promise<void> {
  const saved = await run(
    async () => {
      const { hash } = await post<{ hash: string }>('/api/machine/save', {
        name,
        text: sheet.text,
      });
      await refresh();
      return hash;
    },
    t('measure.saved', { name }),
  );
  if (saved === null) return;
  waiting.clear();
  const said = session.said;
  await open_sheet(saved);
  session.said = said;
}

/** Records this sheet, with the tool in hand, as measured up; then shows the record. */
export async function record_measured(made_by: string): Promise<void> {
  const made = await run(
    async () => {
      const body = { kind: 'measure-up', ...$state.snapshot(choice.tool), made_by };
      const answer = await post<{ seq: number }>('/api/records', body);
      await refresh();
      return answer;
    },
    ({ seq }) => t('measure.recorded', { seq }),
  );
  if (!made) return;
  const said = session.said;
  session.record = session.server?.job?.records.find((r) => r.seq === made.seq) ?? null;
  go('records');
  session.said = said;
}
