// What can be done with a record: look, sign, compute again, supersede, print.
import { get, post, save_file } from '../api/client';
import { type About, refresh, run, session } from '../state/session.svelte';
import { t } from '../words';

/** What the page needs of a record. */
export interface RecordBody {
  pages?: number;
  about: About;
}

export function sign(seq: number, name: string, role: string): Promise<unknown> {
  return run(
    async () => {
      await post(`/api/records/${seq}/sign`, { name, role });
      await refresh();
    },
    t('sign.done', { seq, name }),
  );
}

export function recompute(seq: number): Promise<unknown> {
  return run(
    () => post<{ same: boolean; text?: string }>(`/api/records/${seq}/recompute`),
    (answer) =>
      answer.text ?? t(answer.same ? 'records.recomputed_same' : 'records.recomputed_other'),
  );
}

export function verify_chain(): Promise<unknown> {
  return run(
    () => get<{ whole: boolean; text?: string }>('/api/chain'),
    (answer) => answer.text ?? t(answer.whole ? 'records.chain_good' : 'records.chain_bad'),
  );
}

export function supersede(old: number, seq: number, reason: string): Promise<unknown> {
  return run(
    async () => {
      await post(`/api/records/${old}/supersede`, { by: seq, reason });
      await refresh();
    },
    t('records.superseded', { old, seq }),
  );
}

export function save_sheet_pdf(seq: number): Promise<unknown> {
  const name = `record-${seq}.pdf`;
  return run(
    () => save_file(`/api/records/${seq}/sheet.pdf`, name, 'application/pdf'),
    () => t('records.saved_pdf', { name }),
  );
}

export function save_card_pdf(seq: number): Promise<unknown> {
  const name = `card-${seq}.pdf`;
  return run(
    () => save_file(`/api/records/${seq}/card.pdf`, name, 'application/pdf'),
    () => t('records.saved_pdf', { name }),
  );
}

/** Chooses the record to look at: the latest, unless one was chosen. */
export function choose_record(seq: number): void {
  session.record = session.server?.job?.records.find((r) => r.seq === seq) ?? null;
}
