// One door to the server. Every call carries the token; every refusal arrives as faults.
import { save_blob } from '../lib/save';
import { t } from '../words';
import type { Fault } from './types';

/** Faults, as the server gave them or as made here when it did not answer. */
export class Refused extends Error {
  constructor(readonly faults: Fault[]) {
    super(faults.map((f) => `${f.code} ${f.at}`).join(', '));
  }
}

let token = '';

/** Takes the token out of the address, so that it is neither bookmarked nor shown. */
export function take_token(): boolean {
  const found = /(?:^#|&)token=([^&]+)/.exec(location.hash);
  if (found?.[1]) {
    token = decodeURIComponent(found[1]);
    sessionStorage.setItem('holdline-token', token);
    history.replaceState(null, '', location.pathname + location.search);
  } else {
    token = sessionStorage.getItem('holdline-token') ?? '';
  }
  return token !== '';
}

async function ask(
  method: string,
  path: string,
  body?: BodyInit,
  type?: string,
): Promise<Response> {
  const headers: Record<string, string> = { Authorization: `Bearer ${token}` };
  if (type) headers['Content-Type'] = type;
  let answer: Response;
  try {
    answer = await fetch(path, { method, headers, body: body ?? null, cache: 'no-store' });
  } catch {
    throw new Refused([{ code: '', at: path, got: t('program.no_server') }]);
  }
  if (!answer.ok) throw new Refused(await faults_of(answer, path));
  return answer;
}

async function faults_of(answer: Response, path: string): Promise<Fault[]> {
  const text = await answer.text();
  try {
    const said = JSON.parse(text) as { faults?: Fault[] };
    if (said.faults && said.faults.length > 0) return said.faults;
  } catch {
    // not JSON: told as it is below
  }
  return [{ code: String(answer.status), at: path, got: text.slice(0, 300) || answer.statusText }];
}

export async function get<T>(path: string): Promise<T> {
  return (await (await ask('GET', path)).json()) as T;
}

export async function get_text(path: string): Promise<string> {
  return (await ask('GET', path)).text();
}

export async function get_bytes(path: string): Promise<ArrayBuffer> {
  return (await ask('GET', path)).arrayBuffer();
}

export async function post<T>(path: string, body: unknown = {}): Promise<T> {
  const answer = await ask('POST', path, JSON.stringify(body), 'application/json');
  const text = await answer.text();
  return (text === '' ? {} : JSON.parse(text)) as T;
}

export async function post_file<T>(path: string, file: Blob): Promise<T> {
  return (await (await ask('POST', path, file, 'application/octet-stream')).json()) as T;
}

/** Saves what the server gives as a file on this computer. */
export async function save_file(path: string, name: string, type: string): Promise<void> {
  save_blob(new Blob([await get_bytes(path)], { type }), name);
}
