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

export interface PoseBudget {
  figures: Figure[];
  verdict: Verdict;
  shares: { label: string; percent: number; text: string }[];
  help: { label: string; text: string }[];
  growth: Growth | null;
  monte_carlo: { text: string; parts: boolean } | null;
  missing: string[];
  sheets: { section: string; plan: string };
  findings: Finding[];
  cautions: string[];
}

export interface MapBudget {
  verdict: Verdict;
  words: string[];
  figures: Figure[];
  worst: { text: string; joints_deg: Record<string, number> } | null;
  missing: string[];
  growth: Growth | null;
  findings: Finding[];
  cautions: string[];
  sheets: { section: string; plan: string };
}
