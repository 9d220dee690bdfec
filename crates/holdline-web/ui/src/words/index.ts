import { en } from './en';

export type Key = keyof typeof en;
export type Words = Record<Key, string>;

const words: Words = en;

/** The words for a key, with `{name}` filled in from `parts`. */
export function t(key: Key, parts: Record<string, string | number> = {}): string {
  return words[key].replace(/\{(\w+)\}/g, (whole, name: string) =>
    name in parts ? String(parts[name]) : whole,
  );
}
