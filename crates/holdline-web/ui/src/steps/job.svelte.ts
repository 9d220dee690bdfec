// Opening, creating and filling a job.
import { post, post_file, Refused } from '../api/client';
import { forget_choice } from '../state/choice.svelte';
import { forget_pose } from '../state/pose.svelte';
import { refresh, run, session } from '../state/session.svelte';
import { t } from '../words';
import { forget_budget } from './budget.svelte';
import { forget_calibrate } from './calibrate.svelte';
import { forget_prove } from './prove.svelte';
import { forget_sheet } from './sheet.svelte';

async function fresh(): Promise<string> {
  await refresh();
  forget_choice();
  forget_pose();
  forget_sheet();
  forget_calibrate();
  forget_prove();
  forget_budget();
  session.record = null;
  return session.server?.job?.name ?? '';
}

export function open_job(path: string, create: boolean): Promise<unknown> {
  return run(
    async () => {
      await post('/api/job', { path, create });
      return fresh();
    },
    (name) => t(create ? 'job.created' : 'job.opened', { name }),
  );
}

export function make_demo(): Promise<unknown> {
  return run(
    async () => {
      await post('/api/job/demo');
      return fresh();
    },
    (name) => t('job.created', { name }),
  );
}

export function close_job(): Promise<unknown> {
  return run(async () => {
    await post('/api/job/close');
    return fresh();
  }, t('job.closed'));
}

/** Takes documents in one by one; those with faults stay out, and their faults name the file. */
export async function take_in(files: Iterable<File>): Promise<void> {
  await run(
    async () => {
      const taken: string[] = [];
      const faults = [];
      for (const file of files) {
        try {
          const path = `/api/documents?name=${encodeURIComponent(file.name)}`;
          const kept = await post_file<{ name: string }>(path, file);
          // Another file of a machine that is there already is a newer version of its sheet.
          taken.push(kept.name === file.name ? file.name : `${file.name} (${kept.name})`);
        } catch (why) {
          if (!(why instanceof Refused)) throw why;
          faults.push(
            ...why.faults.map((f) => ({ ...f, at: f.at ? `${file.name}: ${f.at}` : file.name })),
          );
        }
      }
      await refresh();
      if (taken.length > 0) session.said = t('job.import_done', { name: taken.join(', ') });
      if (faults.length > 0) throw new Refused(faults);
      return taken.join(', ');
    },
    (name) => t('job.import_done', { name }),
  );
}
