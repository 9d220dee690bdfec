// The calibration in hand: which observations, which unknowns, what came out.
import { post, post_file } from '../api/client';
import type { FitAnswer, HandOverAnswer, NextAnswer } from '../api/calibrate';
import type { SdPair, ViewSize } from '../api/types';
import { choice } from '../state/choice.svelte';
import { show_pose } from '../state/pose.svelte';
import { go, refresh, run, session } from '../state/session.svelte';
import { t } from '../words';
import { document_of, type TypedObservation } from './observed';

export type CalibrateWay = 'fit' | 'next' | 'hand_over';

/** Groups of unknowns that can be solved for, as the program names them. */
export const GROUPS = ['sensors', 'tooth', 'lengths', 'linkage', 'coupler', 'antennas'] as const;
export type Group = (typeof GROUPS)[number];

interface CalibrateState {
  way: CalibrateWay;
  /** Hashes of the documents that are used. */
  observations: string[];
  /** Unknowns; none: what the observations touch. */
  solve: Group[];
  keep_all: boolean;
  /** Of one antenna position and of a heading, where the observations carry them. */
  position_sd_m: SdPair;
  heading_sd_deg: number | null;
  who: string;
  with: string;
  typed: TypedObservation[];
  n_next: number;
  /** Of one shot along each axis: how well the next poses will be measured. */
  shot_sd_m: number | null;
  terms: string;
  /** How far the tooth of the keyed numbers may be from the calibration. */
  allowed_m: number | null;
  made_by: string;
  view: ViewSize;
  fit: FitAnswer | null;
  fitted_for: string;
  next: NextAnswer | null;
  hand_over: HandOverAnswer | null;
  handed_for: string;
}

function nothing_yet(): CalibrateState {
  return {
    way: 'fit',
    observations: [],
    solve: [],
    keep_all: false,
    position_sd_m: { h: null, v: null },
    heading_sd_deg: null,
    who: '',
    with: '',
    typed: [],
    n_next: 6,
    shot_sd_m: null,
    terms: '',
    allowed_m: null,
    made_by: '',
    view: { w_mm: 180, h_mm: 96 },
    fit: null,
    fitted_for: '',
    next: null,
    hand_over: null,
    handed_for: '',
  };
}

export const calibrate: CalibrateState = $state(nothing_yet());

/** Another job has other observations and other people. */
export function forget_calibrate(): void {
  Object.assign(calibrate, nothing_yet());
}

/** The body of a fit; the same for looking and for recording. The sheet as measured is what is calibrated. */
export function fit_body(): object {
  return {
    ...$state.snapshot(choice.tool),
    calibration: null,
    observations: $state.snapshot(calibrate.observations),
    solve: $state.snapshot(calibrate.solve),
    keep_all: calibrate.keep_all,
    position_sd_m: $state.snapshot(calibrate.position_sd_m),
    heading_sd_deg: calibrate.heading_sd_deg,
    who: calibrate.who,
    with: calibrate.with,
  };
}

/** True while the fit shown is a fit of what stands in the margin now. */
export function fit_still_fits(): boolean {
  return calibrate.fit !== null && calibrate.fitted_for === JSON.stringify(fit_body());
}

export async function run_fit(): Promise<void> {
  const body = fit_body();
  const view = { plot: $state.snapshot(calibrate.view) };
  calibrate.fit = await run(
    () => post<FitAnswer>('/api/calibrate/fit', { ...body, view }),
    (answer) => answer.words[0] ?? '',
  );
  calibrate.fitted_for = JSON.stringify(body);
}

export async function run_next(): Promise<void> {
  const ask = { ...fit_body(), n: calibrate.n_next, shot_sd_m: calibrate.shot_sd_m };
  calibrate.next = await run(
    () => post<NextAnswer>('/api/calibrate/next', ask),
    (answer) => answer.words[0] ?? '',
  );
}

export function hand_over_body(): object {
  return { ...$state.snapshot(choice.tool), terms: calibrate.terms, allowed_m: calibrate.allowed_m };
}

export async function run_hand_over(): Promise<void> {
  const body = hand_over_body();
  calibrate.hand_over = await run(
    () => post<HandOverAnswer>('/api/calibrate/hand-over', body),
    (answer) => answer.words[0] ?? '',
  );
  calibrate.handed_for = JSON.stringify(body);
}

/** Takes what was typed into the job as a document, and uses it. */
export async function take_typed(): Promise<void> {
  const text = document_of($state.snapshot(calibrate.typed), {
    machine: choice.machine_name,
    coupler: choice.tool.coupler,
    bucket: choice.tool.bucket,
    by: calibrate.who,
    with: calibrate.with,
  });
  const name = `${choice.machine_name}-typed.observations.csv`;
  const taken = await run(
    async () => {
      const path = `/api/documents?name=${encodeURIComponent(name)}`;
      const { hash } = await post_file<{ hash: string }>(path, new Blob([text]));
      await refresh();
      return hash;
    },
    t('job.import_done', { name }),
  );
  if (taken === null) return;
  const current = new Set(
    (session.server?.job?.documents ?? []).filter((d) => d.current).map((d) => d.hash),
  );
  calibrate.observations = [...calibrate.observations.filter((h) => current.has(h)), taken];
}

async function record<T extends { seq: number }>(body: object): Promise<T | null> {
  return run(
    async () => {
      const made = await post<T>('/api/records', { ...body, made_by: calibrate.made_by });
      await refresh();
      return made;
    },
    ({ seq }) => t('prove.made', { seq }),
  );
}

function show_record(seq: number): void {
  const said = session.said;
  session.record = session.server?.job?.records.find((r) => r.seq === seq) ?? null;
  go('records');
  session.said = said;
}

/** Records the fit; its calibration is a document of the job from then on, and in hand. */
export async function accept_fit(): Promise<void> {
  const made = await record<{ seq: number; calibration: string | null }>({
    kind: 'calibrate',
    ...fit_body(),
  });
  if (!made) return;
  // A fit that is not believed is kept as a record and hands no calibration out.
  if (made.calibration !== null) choice.tool.calibration = made.calibration;
  calibrate.fit = null;
  show_pose();
  show_record(made.seq);
}

export async function record_hand_over(): Promise<void> {
  const made = await record<{ seq: number }>({ kind: 'hand-over', ...hand_over_body() });
  if (!made) return;
  calibrate.hand_over = null;
  show_record(made.seq);
}
