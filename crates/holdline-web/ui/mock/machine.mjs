// A stand-in for the real machine model, for work on the page alone. Not exact, never shipped:
// a plain chain of pins in the boom plane, no uncertainty arithmetic.

const RAD = Math.PI / 180;

/** Lines of the sheet that hold one number or one word, by path. */
export function fields_of(text) {
  const fields = [];
  let table = '';
  const count = {};
  text.split('\n').forEach((line, i) => {
    const head = /^\[\[?([^\]]+)\]\]?/.exec(line);
    if (head) {
      table = head[1];
      if (line.startsWith('[[')) {
        count[table] = (count[table] ?? 0) + 1;
        table = `${table}[${count[table]}]`;
      }
      return;
    }
    const row = /^(\w+)\s*=\s*(.+?)\s*(#.*)?$/.exec(line);
    if (!row || table === '' || table === 'units') return;
    const [, key, raw] = row;
    const measured = /^\{ value = (-?[\d.]+)(?:, sd = ([\d.]+))? \}$/.exec(raw);
    const number = /^-?[\d.]+$/.test(raw);
    const word = /^"(.*)"$/.exec(raw);
    if (!measured && !number && !word) return;
    fields.push({
      line: i,
      column: line.indexOf(raw) + 1,
      path: `${table}.${key}`,
      table,
      label: key.replaceAll('_', ' '),
      unit: number || measured ? unit_of(table, key) : '',
      kind: word ? 'text' : 'number',
      value: word ? word[1] : Number(measured ? measured[1] : raw),
      sd: measured?.[2] === undefined ? null : Number(measured[2]),
      has_sd: Boolean(measured),
      needed: true,
      choices: [],
      help: key === 'length' && table === 'stick' ? 'Pin centre to pin centre.' : '',
    });
  });
  return fields;
}

function unit_of(table, key) {
  if (/mass/.test(key)) return 'kg';
  if (/angle|rotation|yaw|pitch|fov/.test(key) || table.startsWith('sensor')) return 'deg';
  if (/count|branch/.test(key)) return '';
  return 'm';
}

export function form_of(text) {
  const groups = [];
  for (const { line, column, table, ...field } of fields_of(text)) {
    let group = groups.find((g) => g.title === table);
    if (!group) groups.push((group = { title: table, path: table, fields: [] }));
    group.fields.push(field);
  }
  return { groups };
}

export function faults_of(text) {
  if (!/^format\s*=\s*"holdline\.machine"/m.test(text)) {
    return [
      {
        code: 'F010',
        at: 'format',
        got: 'no format line',
        want: 'format = "holdline.machine"',
        fix: 'add the line at the top',
        line: 1,
        column: 1,
      },
    ];
  }
  const open = text.split('\n').findIndex((line) => /^\[\[?[^\]]*$/.test(line));
  if (open >= 0) {
    return [
      {
        code: 'F001',
        at: '',
        got: 'a section without its end',
        want: ']',
        fix: 'close it',
        line: open + 1,
        column: 1,
      },
    ];
  }
  return fields_of(text)
    .filter((f) => f.path === 'stick.length' && !(f.value >= 0.5 && f.value <= 12))
    .map((f) => ({
      code: 'M012',
      at: f.path,
      got: `${f.value} m`,
      want: '0.5 m to 12 m (stick, pin to pin)',
      fix: 'measure pin centre to pin centre again; feet typed as metres look like this',
      line: f.line + 1,
      column: f.column,
    }));
}

export function edit(text, edits) {
  const lines = text.split('\n');
  for (const { path, value, sd } of edits) {
    const field = fields_of(text).find((f) => f.path === path);
    if (!field) continue;
    const said =
      typeof value === 'string' && field.kind === 'text'
        ? JSON.stringify(value)
        : String(value ?? '');
    const key = lines[field.line].split('=')[0];
    lines[field.line] = field.has_sd
      ? `${key}= { value = ${said}${sd === null ? '' : `, sd = ${sd}`} }`
      : `${key}= ${said}`;
  }
  return lines.join('\n');
}

export const PARTS = {
  couplers: ['QC-demo'],
  tilts: [],
  buckets: [
    { id: 'T75', teeth: ['left', 'centre', 'right'] },
    { id: 'G180', teeth: ['left', 'centre', 'right'] },
  ],
};

const LIMITS = {
  swing: ['Swing', -180, 180, 0],
  boom: ['Boom', -45.258, 61.521, 28],
  stick: ['Stick', -152.595, -35.534, -110],
  bucket: ['Bucket', -40.189, 126.42, 57],
};

export function pose(ask) {
  const deg = Object.fromEntries(
    Object.entries(LIMITS).map(([k, v]) => [k, ask.joints_deg[k] ?? v[3]]),
  );
  const at = (p, angle, len) => [
    p[0] + len * Math.cos(angle * RAD),
    p[1] + len * Math.sin(angle * RAD),
  ];
  const A = [0.15, 1.85];
  const b = deg.boom + ask.pitch_deg;
  const B = at(A, b, 5.72);
  const C = at(B, b + deg.stick, 2.94);
  const ear = b + deg.stick + deg.bucket;
  const T = at(C, ear - 100.481, 1.6958);
  const n = (v) => `${v >= 0 ? '+' : '−'}${Math.abs(v).toFixed(3)} m`;
  const figures = [
    {
      group: '2D, from the tracks',
      label: 'Forward of the swing axis',
      text: n(T[0]),
      uncertainty_text: '± 0.011',
    },
    {
      group: '2D, from the tracks',
      label: 'Above the track ground',
      text: n(T[1]),
      uncertainty_text: '± 0.012',
    },
    {
      group: '2D, from the tracks',
      label: 'Above the bench',
      text: ask.bench_height === null ? 'no bench height typed' : n(T[1] - ask.bench_height),
      uncertainty_text: '',
    },
  ];
  if (ask.mode === '3d') {
    const h = (90 - ask.heading_deg + deg.swing) * RAD;
    const s = ask.stand;
    for (const [label, text] of s
      ? [
          ['E', n(s.e + T[0] * Math.cos(h))],
          ['N', n(s.n + T[0] * Math.sin(h))],
          ['U', n(s.u + T[1])],
        ]
      : [['E, N, U', 'no stand typed']]) {
      figures.push({
        group: '3D, on the site grid',
        label,
        text,
        uncertainty_text: s ? '± 0.021' : '',
      });
    }
  }
  return {
    figures,
    joints: Object.entries(LIMITS).map(([name, [label, min_deg, max_deg]]) => ({
      name,
      label,
      deg: deg[name],
      min_deg,
      max_deg,
      outside: deg[name] < min_deg || deg[name] > max_deg,
      limit_words:
        deg[name] > max_deg ? `${name} cylinder would have to be longer than fully out` : null,
    })),
    sheets: { section: section([A, B, C, T]), plan: plan(T[0], deg.swing) },
    links: [],
    findings: [],
  };
}

function section(pins) {
  const s = ([x, z]) => `${(x * 60 + 200).toFixed(1)},${(560 - (z + 0) * 60).toFixed(1)}`;
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 900 900" width="900"><title>Section</title>
  <path d="M0 560H900" stroke="#1d1a16" stroke-width="1.5"/><rect x="60" y="500" width="260" height="58" fill="none" stroke="#1d1a16" stroke-width="3"/>
  <rect x="30" y="410" width="270" height="88" fill="none" stroke="#1d1a16" stroke-width="3"/>
  <polyline points="${pins.map(s).join(' ')}" fill="none" stroke="#1d1a16" stroke-width="5"/>
  ${pins.map((p) => `<circle cx="${s(p).split(',')[0]}" cy="${s(p).split(',')[1]}" r="7" fill="#f7f2e6" stroke="#1d1a16" stroke-width="2"/>`).join('')}
  <text x="20" y="880" font-size="24">Section in the boom plane, 1 : 100 (mock)</text></svg>`;
}

function plan(reach, swing) {
  const a = swing * RAD;
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 400"><title>Plan</title>
  <rect x="130" y="150" width="140" height="100" fill="none" stroke="#1d1a16" stroke-width="3"/>
  <path d="M200 200L${200 + 18 * reach * Math.cos(a)} ${200 - 18 * reach * Math.sin(a)}" stroke="#1d1a16" stroke-width="4"/>
  <text x="10" y="390" font-size="20">Plan (mock)</text></svg>`;
}

/** Closed form for two links with the bucket's angle held. */
export function reach(ask) {
  if (!('x' in ask.target)) return null;
  const attitude = (ask.attitude_deg ?? -90) * RAD;
  const x = ask.target.x - 1.6958 * Math.cos(attitude) - 0.15;
  const z = ask.target.z - 1.6958 * Math.sin(attitude) - 1.85;
  const r = Math.hypot(x, z);
  const c = (r * r - 5.72 ** 2 - 2.94 ** 2) / (2 * 5.72 * 2.94);
  if (!(Math.abs(c) <= 1)) return null;
  const stick = -Math.acos(c) / RAD;
  const boom =
    (Math.atan2(z, x) -
      Math.atan2(2.94 * Math.sin(stick * RAD), 5.72 + 2.94 * Math.cos(stick * RAD))) /
    RAD;
  return { boom, stick, bucket: attitude / RAD + 100.481 - boom - stick };
}
