// Calibration, next poses, hand-over, readiness: the shapes that go through the door.
import type { Finding } from './types';

export interface CalibratedRow {
  path: string;
  label: string;
  before_text: string;
  text: string;
  change_text: string;
  seen: string;
}

export interface FitAnswer {
  outcome: string;
  words: string[];
  global: string;
  figures: CalibratedRow[];
  columns: string[];
  rows: { label: string; cells: string[]; state: string }[];
  rejected: Finding[];
  inseparable: string[];
  not_determined: string[];
  alone?: string[];
  correlated: string[];
  tooth: { label: string; before_text: string; text: string }[];
  next: string[];
  findings: Finding[];
  cautions: string[];
  calibration_name: string;
  calibration_text: string;
  sheets: { residuals: string; correlations: string; tooth: string; poses: string };
}

export interface NextPose {
  number: number;
  label: string;
  joints_deg: Record<string, number>;
  swing_deg: number;
  lean_text: string;
  words: string;
  gain_text: string;
  section: string;
}

export interface NextAnswer {
  words: string[];
  poses: NextPose[];
  check_poses: NextPose[];
  csv: string;
  cautions: string[];
}

export interface HandOverAnswer {
  outcome: string;
  words: string[];
  entries: {
    label: string;
    text: string;
    unit: string;
    stands_for: string;
    exact_text: string;
    tooth_text: string;
    remark: string;
  }[];
  not_carried: string[];
  poses: {
    label: string;
    joints_text: string;
    want_text: string;
    entered_text: string;
    difference_text: string;
  }[];
  findings: Finding[];
  cautions: string[];
  sheets: { page: string };
}

export interface ReadinessAnswer {
  words: string[];
  jobs: { job: string; answer: string; text: string; missing: string[] }[];
  cautions: string[];
}
