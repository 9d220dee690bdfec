// A stand-in for `holdline serve`, for work on the page alone: node mock/server.mjs
// It speaks the same words on stdout, so the browser tests run against it too (HOLDLINE_MOCK=1).
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { extname, join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';
import * as calibrate from './calibrate.mjs';
import * as machine from './machine.mjs';

const here = fileURLToPath(new URL('.', import.meta.url));
const dist = join(here, '../dist');
const demo = readFileSync(join(here, '../../../../demo/demo-23.machine.toml'), 'utf8');
const port = Number(process.env.PORT ?? process.argv.at(-1)) || 0;
const token = process.env.HOLDLINE_TOKEN ?? 'mock-token';
const hash_of = (bytes) => createHash('sha256').update(bytes).digest('hex');
const now = () => new Date().toISOString();

let job = null;
const texts = new Map();
const bodies = new Map();

class Refusal extends Error {
  constructor(faults, status = 422) {
    super('refused');
    this.faults = faults;
    this.status = status;
  }
}

function new_job(path) {
  job = {
    path,
    name: path
      .split('/')
      .at(-1)
      .replace(/\.holdline$/, ''),
    chain_tail: '0'.repeat(64),
    readonly: false,
    documents: [],
    records: [],
  };
}

function add(name, bytes) {
  const text = bytes.toString('utf8');
  const kinds = [
    [/observations\.(csv|toml)$/, 'observations'],
    [/calibration\.toml$/, 'calibration'],
    [/terms\.toml$/, 'terms'],
    [/\.csv$/, 'shots'],
  ];
  const kind = kinds.find(([ending]) => ending.test(name))?.[1] ?? 'machine';
  if (kind === 'machine') {
    const faults = machine.faults_of(text);
    if (faults.length > 0) throw new Refusal(faults);
  }
  const hash = hash_of(bytes);
  texts.set(hash, text);
  const older = job.documents.filter((d) => d.name === name);
  older.forEach((d) => (d.current = false));
  job.documents.push({
    hash,
    kind,
    name,
    number: older.length + 1,
    added_at: now(),
    bytes: bytes.length,
    current: true,
  });
  return { hash, kind };
}

function form(text) {
  const faults = machine.faults_of(text);
  return { text, form: machine.form_of(text), parts: machine.PARTS, faults };
}

function verify(ask) {
  const daily = ask.daily;
  const diff = daily ? daily.shown_m - daily.known_m : 0.008;
  const good = Math.abs(diff) < ask.tolerance.up_m;
  return {
    result: {
      outcome: good ? 'pass' : 'fail',
      decision: good ? 'Within tolerance, with room for the uncertainty.' : 'Outside tolerance.',
      summary: [
        {
          group: '',
          label: 'Mean difference, up',
          text: `${diff >= 0 ? '+' : '−'}${Math.abs(diff).toFixed(3)} m`,
          uncertainty_text: '± 0.006',
        },
      ],
      columns: ['Shot', 'E, mm', 'N, mm', 'U, mm'],
      rows: daily ? [] : [1, 2, 3].map((i) => ({ label: String(i), cells: ['+3', '−2', '+8'] })),
      findings:
        daily && daily.wear_m === null
          ? [
              {
                code: 'V021',
                text: 'Nobody has looked at the tooth wear; it counts as unknown.',
                where: 'tooth wear',
              },
            ]
          : [],
      diagnosis: daily ? null : calibrate.diagnosis(),
      recheck: daily ? daily.changes.map((c) => `${c} was worked on`) : [],
    },
    svg: '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 600 300"><title>Differences</title><path d="M40 150H580" stroke="#1d1a16"/><path d="M40 60H580M40 240H580" stroke="#1d1a16" stroke-dasharray="8 4"/><circle cx="150" cy="130" r="6"/><circle cx="300" cy="160" r="6"/><text x="40" y="50" font-size="16">tolerance (mock)</text></svg>',
  };
}

function record(ask) {
  const measured = ask.kind !== undefined;
  const answer = measured ? { result: { decision: '' } } : verify(ask);
  const seq = job.records.length + 1;
  const body = JSON.stringify(answer.result);
  job.chain_tail = hash_of(job.chain_tail + body);
  bodies.set(seq, ask);
  job.records.push({
    seq,
    body_hash: hash_of(body),
    kind: measured ? ask.kind : ask.daily ? 'daily' : 'verify',
    title: measured ? `Record of ${ask.kind}` : ask.daily ? 'Daily check' : 'Check against control',
    made_at: now(),
    made_by: ask.made_by,
    outcome: answer.result.decision,
    signatures: [],
    superseded_by: null,
    stale: null,
  });
  const calibration = job.documents.find((d) => d.kind === 'calibration');
  return { seq, calibration: calibration?.hash ?? null };
}

const about = ({ bucket, coupler, tooth }) => ({
  machine: 'demo-23',
  bucket: coupler ? `${bucket} on ${coupler}` : bucket,
  tooth,
  units: 'm, degrees',
  date: now().slice(0, 16).replace('T', ' '),
});

const sheet = (seq) =>
  `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 594 420"><title>Record ${seq}</title><rect x="10" y="10" width="574" height="400" fill="none" stroke="#1d1a16" stroke-width="2"/><text x="30" y="60" font-size="20">Record ${seq} (mock)</text></svg>`;

async function answer(method, path, query, bytes) {
  const body = () => JSON.parse(bytes.toString('utf8') || '{}');
  const need = () =>
    job ??
    (() => {
      throw new Refusal(
        [{ code: 'W010', at: 'job', got: 'no job is open', fix: 'open or create one' }],
        409,
      );
    })();
  const at = `${method} ${path}`;
  const found = (pattern) => new RegExp(`^${pattern}$`).exec(at);
  let m;
  if (at === 'GET /api/state') return { version: '0.0.0-mock', program: 'holdline (mock)', job };
  if (at === 'POST /api/job') {
    new_job(body().path);
    return {};
  }
  if (at === 'POST /api/job/demo') {
    new_job('/mock/demo.holdline');
    add('demo-23.machine.toml', Buffer.from(demo));
    add('check-shots.csv', Buffer.from('name,e,n,u\n'));
    add('day.observations.csv', Buffer.from('name,kind\n'));
    add('demo-23.calibration.toml', Buffer.from('x'));
    add('demo-23.terms.toml', Buffer.from('y'));
    return {};
  }
  if (at === 'POST /api/job/close') return ((job = null), {});
  if (at === 'POST /api/documents') return need() && add(query.get('name'), bytes);
  if ((m = found('GET /api/machine/(\\w+)/form'))) return form(texts.get(m[1]));
  if ((m = found('GET /api/machine/(\\w+)/model.glb')))
    throw new Refusal([{ code: 'W404', at: path, got: 'no model in the mock' }], 404);
  if (at === 'POST /api/machine/edit') return form(machine.edit(body().text, body().edits));
  if (at === 'POST /api/machine/save') return add(body().name, Buffer.from(body().text));
  if (at === 'POST /api/pose') return machine.pose(body());
  if (at === 'POST /api/reach') {
    const joints_deg = machine.reach(body());
    if (!joints_deg)
      throw new Refusal([
        {
          code: 'T030',
          at: 'target',
          got: `${JSON.stringify(body().target)}`,
          want: 'a point within 10.0 m',
          fix: 'track nearer',
        },
      ]);
    return { joints_deg };
  }
  if (at === 'POST /api/calibrate/fit') return calibrate.fit();
  if (at === 'POST /api/calibrate/next') return calibrate.next();
  if (at === 'POST /api/calibrate/hand-over') return calibrate.hand_over();
  if (found('GET /api/machine/(\\w+)/readiness')) return calibrate.readiness();
  if (at === 'POST /api/budget/pose') return calibrate.budget_pose();
  if (at === 'POST /api/budget/map') return calibrate.budget_map();
  if (at === 'POST /api/verify') return verify(body());
  if (at === 'POST /api/records') return need() && record(body());
  if ((m = found('GET /api/records/(\\d+)')))
    return { seq: Number(m[1]), pages: 1, about: about(bodies.get(Number(m[1]))) };
  if (at === 'GET /api/chain') return { whole: true };
  if ((m = found('GET /api/records/(\\d+)/sheet.svg')))
    return { raw: sheet(m[1]), type: 'image/svg+xml' };
  if ((m = found('GET /api/records/(\\d+)/(sheet|card).pdf')))
    return { raw: '%PDF-1.7\n% mock\n', type: 'application/pdf' };
  if ((m = found('POST /api/records/(\\d+)/sign'))) {
    need().records[m[1] - 1].signatures.push({ ...body(), at: now() });
    return {};
  }
  if ((m = found('POST /api/records/(\\d+)/recompute'))) return { same: true };
  if ((m = found('POST /api/records/(\\d+)/supersede'))) {
    need().records[m[1] - 1].superseded_by = body().by;
    return {};
  }
  if ((m = found('GET /api/explain/(\\w+)'))) return { text: `The long story of ${m[1]} (mock).` };
  throw new Refusal([{ code: 'W404', at: path, got: at }], 404);
}

const TYPES = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript',
  '.css': 'text/css',
  '.svg': 'image/svg+xml',
  '.woff2': 'font/woff2',
};
const CSP = "default-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'";

const server = createServer(async (request, response) => {
  const url = new URL(request.url, 'http://localhost');
  const parts = [];
  for await (const part of request) parts.push(part);
  const say = (status, type, body) => {
    response.writeHead(status, { 'Content-Type': type, 'Content-Security-Policy': CSP });
    response.end(body);
  };
  if (!url.pathname.startsWith('/api')) {
    const file = normalize(url.pathname === '/' ? '/index.html' : url.pathname);
    try {
      return say(
        200,
        TYPES[extname(file)] ?? 'application/octet-stream',
        readFileSync(join(dist, file)),
      );
    } catch {
      return say(404, 'text/plain', 'not here');
    }
  }
  if (request.headers.authorization !== `Bearer ${token}`)
    return say(401, 'application/json', '{"faults":[]}');
  try {
    const said = await answer(request.method, url.pathname, url.searchParams, Buffer.concat(parts));
    if ('raw' in said) say(200, said.type, said.raw);
    else say(200, 'application/json', JSON.stringify(said));
  } catch (why) {
    if (why instanceof Refusal)
      return say(why.status, 'application/json', JSON.stringify({ faults: why.faults }));
    say(
      500,
      'application/json',
      JSON.stringify({ faults: [{ code: 'W500', at: url.pathname, got: String(why) }] }),
    );
  }
});
server.listen(port, '127.0.0.1', () => {
  console.log(`holdline workbench: http://127.0.0.1:${server.address().port}/#token=${token}`);
});
