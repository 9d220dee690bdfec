// The error budget: the shapes that go through the door.
import type { Figure, Finding } from './types';

export interface Verdict {
  answer: string;
  text: string;
}

export interface Growth {
  columns: string[];
  rows: { label: string; cells: string[] }[];
  words: string[];
}

/** At a pose, or over the reach: both alike. */
export interface BudgetAnswer {
  verdict: Verdict;
  words: string[];
  figures: Figure[];
  joints_deg: Record<string, number>;
  shares: { label: string; percent: number; text: string }[];
  help: string[];
  growth: Growth | null;
  monte_carlo: { text: string; parts: boolean } | null;
  worst_joints_deg: Record<string, number> | null;
  missing: string[];
  sheets: { section: string; plan: string; shares: string; growth: string };
  findings: Finding[];
  cautions: string[];
}
