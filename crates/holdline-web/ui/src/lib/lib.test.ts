import { describe, expect, test } from 'vitest';
import type { Fault, FormField } from '../api/types';
import { latest } from './latest';
import { faults_by_field, field_for, id_of } from './places';
import { day_and_time, kind_of, record_state } from './rows';
import { keyed_deg, slid_deg } from './slide';
import { view_of } from './view';
import { number_or_null, read_typed } from './typed';

describe('typed numbers', () => {
  test.each([
    ['12.5', 12.5],
    [' -3 ', -3],
    ['−3', -3],
    ['+.5', 0.5],
    ['7.', 7],
    ['1e-3', 0.001],
  ])('%j is %d', (text, value) => {
    expect(read_typed(text)).toEqual({ kind: 'number', value });
  });

  test.each(['12,5', '1 000', '1e999', 'NaN', 'Infinity', '0x10', '12 m', '-', '.', '1.2.3'])(
    '%j is refused',
    (text) => {
      expect(read_typed(text).kind).toBe('not_a_number');
      expect(number_or_null(text)).toBeNull();
    },
  );

  test('nothing typed is nothing, not zero', () => {
    expect(read_typed('  ')).toEqual({ kind: 'empty' });
    expect(number_or_null('')).toBeNull();
  });
});

describe('the field of a fault', () => {
  const paths = [
    'stick.length',
    'bucket[T75].tooth[left].at.x',
    'bucket[T75].tooth[left].at.y',
    'boom.foot.x',
  ];
  test.each([
    ['stick.length', 'stick.length'],
    ['stick.length.sd', 'stick.length'],
    ['bucket[T75].tooth[left].at', 'bucket[T75].tooth[left].at.x'],
    ['bucket[T75]', 'bucket[T75].tooth[left].at.x'],
    ['boom.foot', 'boom.foot.x'],
    ['boom.fo', ''],
    ['nowhere', ''],
    ['', ''],
  ])('%j shows at %j', (at, want) => {
    expect(field_for(paths, at)).toBe(want);
  });

  test('faults gather at their field', () => {
    const field = { path: 'stick.length' } as FormField;
    const fault = (at: string): Fault => ({ code: 'M012', at });
    const by_field = faults_by_field(
      [{ title: 'Stick', path: 'stick', fields: [field] }],
      [fault('stick.length'), fault('stick.length.sd'), fault('other')],
    );
    expect(by_field.get('stick.length')).toHaveLength(2);
    expect(by_field.get('')).toHaveLength(1);
  });

  test('a path is an id without signs', () => {
    expect(id_of('bucket[T75].tooth[left].at')).toBe('f-bucket-T75-tooth-left-at');
  });
});

describe('latest', () => {
  test('one question under way, and only the last of those that waited', async () => {
    const asked: number[] = [];
    const heard: number[] = [];
    const done: (() => void)[] = [];
    const send = latest<number, number>(
      (n) => {
        asked.push(n);
        return new Promise((resolve) => done.push(() => resolve(n * 10)));
      },
      (a) => void heard.push(a),
      () => undefined,
    );
    for (const n of [1, 2, 3, 4]) send(n);
    expect(asked).toEqual([1]);
    done[0]?.();
    await new Promise((later) => setTimeout(later));
    expect(asked).toEqual([1, 4]);
    done[1]?.();
    await new Promise((later) => setTimeout(later));
    expect(heard).toEqual([10, 40]);
  });

  test('a refusal does not stop the next question', async () => {
    const heard: string[] = [];
    const send = latest<string, string>(
      (q) => (q === 'bad' ? Promise.reject(new Error('no')) : Promise.resolve(q)),
      (a) => void heard.push(a),
      (_, q) => void heard.push(`refused ${q}`),
    );
    send('bad');
    send('good');
    await new Promise((later) => setTimeout(later));
    expect(heard).toEqual(['refused bad', 'good']);
  });
});

describe('words about rows', () => {
  const record = {
    seq: 1,
    body_hash: '',
    kind: 'verify',
    title: '',
    made_at: '',
    made_by: '',
    outcome: '',
    signatures: [{ name: 'A', role: 'B', at: '' }],
    superseded_by: null,
    stale: null,
  };
  test('superseded comes before stale, stale before signed', () => {
    expect(record_state(record)).toBe('state.signed');
    expect(record_state({ ...record, stale: 'machine sheet replaced' })).toBe('state.stale');
    expect(record_state({ ...record, stale: 'x', superseded_by: 4 })).toBe('state.superseded');
    expect(record_state({ ...record, signatures: [] })).toBe('state.unsigned');
  });
  test('kinds and times', () => {
    expect(kind_of('holdline.machine')).toBe('machine');
    expect(day_and_time('2026-01-02T03:04:05Z')).toBe('2026-01-02 03:04 UTC');
    expect(day_and_time('yesterday')).toBe('yesterday');
  });
});

describe('a slider', () => {
  test('gives tenths between the ends and the ends themselves', () => {
    expect(slid_deg(30.042, -45.258, 61.521)).toBe(30);
    expect(slid_deg(-45.258, -45.258, 61.521)).toBe(-45.258);
    expect(slid_deg(61.53, -45.258, 61.521)).toBe(61.521);
  });
  test('answers to keys', () => {
    expect(keyed_deg('ArrowRight', 10, -45, 61)).toBe(10.5);
    expect(keyed_deg('PageDown', 10, -45, 61)).toBe(5);
    expect(keyed_deg('End', 10, -45, 61.521)).toBe(61.521);
    expect(keyed_deg('ArrowUp', 61.3, -45, 61.521)).toBe(61.521);
    expect(keyed_deg('Tab', 10, -45, 61)).toBeNull();
  });
});

test('a place on the screen is a size on paper, 9 pt to 16 px', () => {
  expect(view_of(640, 504)).toEqual({ w_mm: 127, h_mm: 100 }); // 9 pt = 3.175 mm by definition
  expect(view_of(80, 600)).toBeNull();
});
