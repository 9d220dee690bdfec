// Words about documents and records.
import type { DocumentRow, JobState, RecordRow } from '../api/types';
import { t, type Key } from '../words';

/** `holdline.machine` and `machine` are one kind. */
export function kind_of(kind: string): string {
  return kind.replace(/^holdline\./, '');
}

export function kind_key(kind: string): Key {
  switch (kind_of(kind)) {
    case 'machine':
      return 'kind.machine';
    case 'shots':
      return 'kind.shots';
    case 'control':
      return 'kind.control';
    case 'readings':
      return 'kind.readings';
    case 'observations':
      return 'kind.observations';
    case 'calibration':
      return 'kind.calibration';
    case 'terms':
      return 'kind.terms';
    case 'site':
      return 'kind.site';
    default:
      return 'kind.other';
  }
}

export function documents_of(job: JobState | null, kind: string): DocumentRow[] {
  return (job?.documents ?? []).filter((d) => kind_of(d.kind) === kind && d.current);
}

/** Which version of its name a document is: 1 for the first that was taken in. */
export function version_of(job: JobState | null, doc: DocumentRow): number {
  const same = (job?.documents ?? []).filter((d) => d.name === doc.name && d.kind === doc.kind);
  return same.filter((d) => d.number <= doc.number).length;
}

/** A document as it stands in a list to choose from. */
export function document_words(job: JobState | null, doc: DocumentRow): string {
  return t('job.name_version', { name: doc.name, n: version_of(job, doc) });
}

/** A record's state in one word; a superseded one is that before all else. */
export function record_state(record: RecordRow): Key {
  if (record.superseded_by !== null && record.superseded_by !== undefined)
    return 'state.superseded';
  if (record.stale) return 'state.stale';
  return record.signatures.length > 0 ? 'state.signed' : 'state.unsigned';
}

/** Outcomes as a person says them; an unknown one as it stands. */
export function outcome_words(outcome: string): string {
  const known: Record<string, Key> = {
    pass: 'outcome.pass',
    fail: 'outcome.fail',
    'not shown': 'outcome.not_shown',
    not_shown: 'outcome.not_shown',
  };
  // A morning's answer may carry that a full re-check is due: "pass, re-check due".
  const [answer = '', due] = outcome.split(', ');
  const key = known[answer];
  const words = key ? t(key) : answer;
  return due === undefined ? words : `${words}, ${due === 're-check due' ? t('outcome.recheck_due') : due}`;
}

/** A date as the sheets print it: year first, minutes, UTC said. */
export function day_and_time(stamp: string): string {
  const parts = /^(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2})/.exec(stamp);
  return parts ? `${parts[1]} ${parts[2]} UTC` : stamp;
}

/** The first letters of a hash, enough to tell it by. */
export function short_hash(hash: string): string {
  return hash.slice(0, 12);
}

/** A bucket with what it hangs on. */
export function bucket_words(bucket: string, coupler: string | null): string {
  return bucket && coupler ? t('block.on_coupler', { bucket, coupler }) : bucket;
}

/** A sheet's name without what every sheet's name ends with. */
export function sheet_name(file: string): string {
  return file.replace(/\.machine\.toml$|\.toml$/, '');
}
