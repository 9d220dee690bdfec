// The error budget in hand: what is known besides the machine, the pose, the map.
import { post } from '../api/client';
import type { BudgetAnswer } from '../api/budget';
import type { Fault, SdPair, ViewSize } from '../api/types';
import { latest } from '../lib/latest';
import { choice } from '../state/choice.svelte';
import { pose } from '../state/pose.svelte';
import { faults_of, go, refresh, run, session } from '../state/session.svelte';
import { t } from '../words';

/** What a person types; null is unknown, 0 says that it was looked at and is nothing. */
interface BudgetState {
  mode: '2d' | '3d';
  position_sd_m: SdPair;
  heading_sd_deg: number | null;
  localization_sd_m: SdPair;
  bench_sd_m: number | null;
  touch_sd_m: number | null;
  mark_sd_m: number | null;
  rebenches: number | null;
  pin_play_m: number | null;
  deflection_m: number | null;
  latency_s: number | null;
  speed_m_s: number | null;
  face: { slope_deg: number | null; azimuth_deg: number | null };
  tolerance: {
    up_m: number | null;
    down_m: number | null;
    plan_m: number | null;
    normal_m: number | null;
  };
  one_sided: boolean;
  shown: 'pose' | 'map';
  view: { section: ViewSize; plan: ViewSize };
  at_pose: BudgetAnswer | null;
  map: BudgetAnswer | null;
  mapped_for: string;
  faults: Fault[];
  made_by: string;
}

function nothing_yet(): BudgetState {
  return {
    mode: '3d',
    position_sd_m: { h: null, v: null },
    heading_sd_deg: null,
    localization_sd_m: { h: null, v: null },
    bench_sd_m: null,
    touch_sd_m: null,
    mark_sd_m: null,
    rebenches: null,
    pin_play_m: null,
    deflection_m: null,
    latency_s: null,
    speed_m_s: null,
    face: { slope_deg: null, azimuth_deg: null },
    tolerance: { up_m: null, down_m: null, plan_m: null, normal_m: null },
    one_sided: false,
    shown: 'pose',
    view: { section: { w_mm: 130, h_mm: 95 }, plan: { w_mm: 60, h_mm: 95 } },
    at_pose: null,
    map: null,
    mapped_for: '',
    faults: [],
    made_by: '',
  };
}

export const budget: BudgetState = $state(nothing_yet());

/** Another job has another contract. */
export function forget_budget(): void {
  Object.assign(budget, nothing_yet());
}

/** What both questions share. */
function known(): object {
  const face = $state.snapshot(budget.face);
  return {
    ...$state.snapshot(choice.tool),
    mode: budget.mode,
    position_sd_m: $state.snapshot(budget.position_sd_m),
    heading_sd_deg: budget.heading_sd_deg,
    localization_sd_m: $state.snapshot(budget.localization_sd_m),
    bench_sd_m: budget.bench_sd_m,
    touch_sd_m: budget.touch_sd_m,
    mark_sd_m: budget.mark_sd_m,
    rebenches: budget.rebenches ?? 0,
    pin_play_m: budget.pin_play_m,
    deflection_m: budget.deflection_m,
    latency_s: budget.latency_s,
    speed_m_s: budget.speed_m_s,
    face: face.slope_deg === null || face.azimuth_deg === null ? null : face,
    tolerance: $state.snapshot(budget.tolerance),
    one_sided: budget.one_sided,
    pitch_deg: pose.pitch_deg,
    roll_deg: pose.roll_deg,
    heading_deg: pose.heading_deg,
    joints_deg: $state.snapshot(pose.joints_deg),
  };
}

const send = latest<object, BudgetAnswer>(
  (ask) => post<BudgetAnswer>('/api/budget/pose', ask),
  (answer) => {
    budget.at_pose = answer;
    budget.faults = [];
  },
  (why) => {
    budget.faults = faults_of(why);
  },
);

/** Asks for the pose in hand. Call it when something of it changed. */
export function show_budget(): void {
  if (choice.tool.machine === '' || choice.tool.bucket === '') return;
  send({
    ...known(),
    view: $state.snapshot(budget.view),
  });
}

export function map_body(): object {
  return known();
}

export function map_still_fits(): boolean {
  return budget.map !== null && budget.mapped_for === JSON.stringify(map_body());
}

export async function run_map(): Promise<void> {
  const body = map_body();
  const ask = { ...body, view: $state.snapshot(budget.view) };
  budget.map = await run(
    () => post<BudgetAnswer>('/api/budget/map', ask),
    (answer) => answer.verdict.text,
  );
  budget.mapped_for = JSON.stringify(body);
  if (budget.map) budget.shown = 'map';
}

export async function record_budget(): Promise<void> {
  const made = await run(
    async () => {
      const body = { kind: 'budget', ...map_body(), made_by: budget.made_by };
      const answer = await post<{ seq: number }>('/api/records', body);
      await refresh();
      return answer;
    },
    ({ seq }) => t('prove.made', { seq }),
  );
  if (!made) return;
  const said = session.said;
  session.record = session.server?.job?.records.find((r) => r.seq === made.seq) ?? null;
  budget.map = null;
  go('records');
  session.said = said;
}
