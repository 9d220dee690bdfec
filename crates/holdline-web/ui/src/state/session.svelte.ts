// What every step shares: the job as the server has it, the step in hand, and what was last said.
import { get, Refused } from '../api/client';
import type { Fault, RecordRow, ServerState } from '../api/types';

export type Step = 'job' | 'measure' | 'calibrate' | 'prove' | 'budget' | 'records';
export const STEPS: readonly Step[] = [
  'job',
  'measure',
  'calibrate',
  'prove',
  'budget',
  'records',
];

/** The machine, the bucket and the tooth point that a sheet is about. */
export interface About {
  machine: string;
  bucket: string;
  tooth: string;
  units: string;
  date: string;
}

interface Session {
  server: ServerState | null;
  step: Step;
  said: string;
  faults: Fault[];
  busy: boolean;
  night: boolean;
  margin_open: boolean;
  record: RecordRow | null;
  /** What the record shown is about, by its own word; not what is in hand. */
  record_about: About | null;
}

export const session: Session = $state({
  server: null,
  step: 'job',
  said: '',
  faults: [],
  busy: false,
  night: false,
  margin_open: true,
  record: null,
  record_about: null,
});

export async function refresh(): Promise<void> {
  session.server = await get<ServerState>('/api/state');
  const kept = session.record?.seq;
  if (kept !== undefined) {
    session.record = session.server.job?.records.find((r) => r.seq === kept) ?? null;
  }
}

/** Does one thing for the person: says when it is done, shows the faults when it is refused. */
export async function run<T>(
  work: () => Promise<T>,
  done: string | ((a: T) => string) = '',
): Promise<T | null> {
  if (session.busy) return null; // pressed twice in gloves is pressed once
  session.busy = true;
  session.faults = [];
  session.said = '';
  try {
    const answer = await work();
    session.said = typeof done === 'string' ? done : done(answer);
    return answer;
  } catch (why) {
    session.faults = faults_of(why);
    return null;
  } finally {
    session.busy = false;
  }
}

export function faults_of(why: unknown): Fault[] {
  if (why instanceof Refused) return why.faults;
  return [{ code: '', at: '', got: why instanceof Error ? why.message : String(why) }];
}

export function go(step: Step): void {
  session.step = step;
  session.said = '';
  session.faults = [];
}
