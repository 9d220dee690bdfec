// The check in hand: what was typed, what came out, and whether the two still belong together.
import { post } from '../api/client';
import type { Tolerance, VerifyAnswer, ViewSize } from '../api/types';
import { choice } from '../state/choice.svelte';
import { go, refresh, run, session } from '../state/session.svelte';
import { t } from '../words';

export type Way = 'full' | 'daily';

/** One typed shot: shown and surveyed easting, northing, elevation. */
export interface TypedShot {
  name: string;
  shown: [number | null, number | null, number | null];
  known: [number | null, number | null, number | null];
}

export interface Daily {
  bench: string;
  shown_m: number | null;
  known_m: number | null;
  shown_sd_m: number | null;
  known_sd_m: number | null;
  wear_m: number | null;
  limits_tried: '' | 'held' | 'failed' | 'not_tried';
  changes: string[];
  initials: string;
}

interface ProveState {
  way: Way;
  shots: string;
  control: string;
  rows: TypedShot[];
  shown_sd_m: { h: number | null; v: number | null };
  known_sd_m: { h: number | null; v: number | null };
  /** Of one antenna position and of a typed heading, where the shots are readings. */
  position_sd_m: { h: number | null; v: number | null };
  heading_sd_deg: number | null;
  /** Of the control and the set-up, common to all shots, where no control document says it. */
  control_sd_m: { h: number | null; v: number | null };
  tolerance: Tolerance;
  daily: Daily;
  /** Place of the plot on the screen; not part of what is checked. */
  plot: ViewSize;
  answer: VerifyAnswer | null;
  answered_for: string;
  made_by: string;
}

function nothing_yet(): ProveState {
  return {
    way: 'full',
    shots: '',
    control: '',
    rows: [],
    shown_sd_m: { h: null, v: null },
    known_sd_m: { h: null, v: null },
    position_sd_m: { h: null, v: null },
    heading_sd_deg: null,
    control_sd_m: { h: null, v: null },
    tolerance: { up_m: null, down_m: null, plan_m: null },
    daily: {
      bench: '',
      shown_m: null,
      known_m: null,
      shown_sd_m: null,
      known_sd_m: null,
      wear_m: null,
      limits_tried: '',
      changes: [],
      initials: '',
    },
    plot: { w_mm: 180, h_mm: 84 },
    answer: null,
    answered_for: '',
    made_by: '',
  };
}

export const prove: ProveState = $state(nothing_yet());

/** Another job has another contract, other shots and other people. */
export function forget_prove(): void {
  Object.assign(prove, nothing_yet());
}

export function new_shot(n: number): TypedShot {
  return { name: String(n), shown: [null, null, null], known: [null, null, null] };
}

/** True where a document says what the surveyed points are worth. */
export function has_control(): boolean {
  return prove.control !== '';
}

/** The body of a check as it is asked; the same for looking and for recording. */
export function check_body(): object {
  const tool = $state.snapshot(choice.tool);
  const tolerance = $state.snapshot(prove.tolerance);
  if (prove.way === 'daily') {
    return {
      ...tool,
      shots: null,
      control: null,
      rows: null,
      tolerance,
      daily: $state.snapshot(prove.daily),
    };
  }
  const typed = prove.shots === '';
  return {
    ...tool,
    shots: typed ? null : prove.shots,
    control: has_control() ? prove.control : null,
    position_sd_m: typed ? null : $state.snapshot(prove.position_sd_m),
    heading_sd_deg: typed ? null : prove.heading_sd_deg,
    control_sd_m: has_control() ? null : $state.snapshot(prove.control_sd_m),
    rows: typed
      ? $state.snapshot(prove.rows).map((r) => ({
          ...r,
          shown_sd_m: $state.snapshot(prove.shown_sd_m),
          known_sd_m: $state.snapshot(prove.known_sd_m),
        }))
      : null,
    tolerance,
    daily: null,
  };
}

export function has_tolerance(): boolean {
  const { up_m, down_m, plan_m } = prove.tolerance;
  return up_m !== null && down_m !== null && (prove.way === 'daily' || plan_m !== null);
}

export function has_subject(): boolean {
  if (prove.way === 'daily') {
    const { bench, shown_m, known_m } = prove.daily;
    return bench.trim() !== '' && shown_m !== null && known_m !== null;
  }
  return prove.shots !== '' || prove.rows.length > 0;
}

/** True while the answer shown is an answer to what stands in the margin now. */
export function still_fits(): boolean {
  return prove.answer !== null && prove.answered_for === JSON.stringify(check_body());
}

export async function run_check(): Promise<void> {
  const body = check_body();
  session.record = null;
  const ask = { ...body, view: { plot: $state.snapshot(prove.plot) } };
  prove.answer = await run(
    () => post<VerifyAnswer>('/api/verify', ask),
    ({ result }) => result.decision,
  );
  prove.answered_for = JSON.stringify(body);
}

export async function make_record(): Promise<void> {
  const made = await run(
    async () => {
      const answer = await post<{ seq: number }>('/api/records', {
        ...check_body(),
        made_by: prove.made_by,
      });
      await refresh();
      return answer;
    },
    ({ seq }) => t('prove.made', { seq }),
  );
  if (!made) return;
  const said = session.said;
  session.record = session.server?.job?.records.find((r) => r.seq === made.seq) ?? null;
  prove.answer = null;
  go('records');
  session.said = said;
}
