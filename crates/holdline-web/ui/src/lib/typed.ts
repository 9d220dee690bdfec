// What a person types is taken as typed or refused; nothing is guessed.

export type Typed =
  { kind: 'empty' } | { kind: 'number'; value: number } | { kind: 'not_a_number'; text: string };

/** Reads a typed number. A comma is refused: 1,234 may mean a thousand or one and a bit. */
export function read_typed(text: string): Typed {
  const trimmed = text.trim().replace(/^[−–]/, '-');
  if (trimmed === '') return { kind: 'empty' };
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(trimmed)) {
    return { kind: 'not_a_number', text: text.trim() };
  }
  const value = Number(trimmed);
  return Number.isFinite(value) ? { kind: 'number', value } : { kind: 'not_a_number', text };
}

/** The number, or null where nothing usable stands. */
export function number_or_null(text: string): number | null {
  const typed = read_typed(text);
  return typed.kind === 'number' ? typed.value : null;
}
