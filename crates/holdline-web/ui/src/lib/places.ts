// Which field a fault belongs to.
import type { Fault, FormGroup } from '../api/types';

/** `a.b[2].c` holds `a.b[2].c` itself and everything below it. */
function holds(outer: string, inner: string): boolean {
  return inner === outer || inner.startsWith(`${outer}.`) || inner.startsWith(`${outer}[`);
}

/** Faults by the path of their field; those that fit no field stand under the empty path. */
export function faults_by_field(groups: FormGroup[], faults: Fault[]): Map<string, Fault[]> {
  const paths = groups.flatMap((g) => g.fields.map((f) => f.path));
  const by_field = new Map<string, Fault[]>();
  for (const fault of faults) {
    const path = field_for(paths, fault.at);
    by_field.set(path, [...(by_field.get(path) ?? []), fault]);
  }
  return by_field;
}

/** The field at the fault's place, else the nearest around it, else the first inside it. */
export function field_for(paths: string[], at: string): string {
  if (at === '') return '';
  const around = paths.filter((p) => holds(p, at)).sort((a, b) => b.length - a.length)[0];
  return around ?? paths.find((p) => holds(at, p)) ?? '';
}

/** A path as the id of an element. */
export function id_of(path: string): string {
  return `f-${path.replace(/[^A-Za-z0-9]+/g, '-')}`;
}
