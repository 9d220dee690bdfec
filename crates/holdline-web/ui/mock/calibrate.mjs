// Stand-in answers for calibration, next poses, hand-over, readiness, budget and diagnosis.
// Nothing in them is right but the shapes.

const plot = (title) =>
  `<svg xmlns="http://www.w3.org/2000/svg" class="sheet" viewBox="0 0 600 300"><title>${title}</title><path d="M40 150H580" stroke="#1d1a16"/><path d="M40 60H580M40 240H580" stroke="#1d1a16" stroke-dasharray="8 4"/><text x="40" y="50" font-size="16">${title} (mock)</text></svg>`;

export const fit = () => ({
  outcome: 'pass',
  words: ['The fit holds together: 1 of 62 observations set aside.', 'Tooth ± 6 mm at mid reach.'],
  global: 'Global test: 118.2 with 121 to spare, between 92 and 153.',
  figures: [
    {
      path: 'sensor[S-boom].offset',
      label: 'Boom sensor S-boom, offset',
      before_text: '0.000° ± 0.080',
      text: '+0.031° ± 0.009',
      change_text: '+0.031°',
      seen: 'well',
    },
    {
      path: 'boom.length',
      label: 'Boom, foot to stick pin',
      before_text: '5.720 m ± 0.006',
      text: '5.7204 m ± 0.0021',
      change_text: '+0.4 mm',
      seen: 'partly',
    },
  ],
  columns: ['Observation', 'Residual', 'in sd', 'Redundancy', 'Smallest blunder seen'],
  rows: [
    { label: 'p1 tooth[centre]', cells: ['+1.2 mm', '+0.4', '0.71', '14 mm'], state: 'used' },
    { label: 'tape A–B', cells: ['+450 mm', '+31', '0.62', '12 mm'], state: 'rejected' },
  ],
  rejected: [{ text: '5.27 m does not fit the rest by 450 mm; 5.72 m would.', where: 'tape A–B' }],
  inseparable: [],
  not_determined: ['Tooth left of the boom plane: no shot with the house leaning.'],
  correlated: ['Stick sensor offset and stick length: −0.82'],
  tooth: [{ label: 'mid', before_text: '± 19 mm', text: '± 6 mm' }],
  next: ['Check with two shots that were not used.'],
  findings: [],
  cautions: ['A calibration speaks for this bucket and this day.'],
  calibration_name: 'demo-23.calibration.toml',
  calibration_text: '',
  sheets: {
    residuals: plot('Residuals'),
    correlations: plot('Correlations'),
    tooth: plot('Tooth'),
    poses: plot('Poses'),
  },
});

export const next = () => ({
  words: ['Six poses take the tooth from ± 19 to ± 5 mm.'],
  poses: [1, 2, 3].map((number) => ({
    number,
    label: 'boom up, stick vertical, bucket in',
    joints_deg: { boom: 20 },
    swing_deg: 0,
    lean_text: '',
    words: 'Boom about half up, stick vertical, bucket curled in; tooth 6.2 m out.',
    gain_text: '± 19 → ± 12 mm',
    section: plot('Pose'),
  })),
  check_poses: [],
  csv: 'name,kind\n',
  cautions: [],
});

export const hand_over = () => ({
  outcome: 'pass',
  words: ['Keyed in as below, the tooth stands within 1 mm of the calibration.'],
  entries: [
    {
      label: 'Length one',
      text: '5.720',
      unit: 'm',
      stands_for: 'boom, foot to stick pin',
      exact_text: '5.7204',
      tooth_text: '0.4 mm',
      remark: '',
    },
  ],
  not_carried: ['Stick sensor offset: no entry; 3 mm at the tooth.'],
  poses: [
    {
      label: 'near',
      joints_text: 'boom 30°, stick −120°, bucket 60°',
      want_text: '4.213, 0.881',
      entered_text: '4.213, 0.881',
      difference_text: '0.3 mm',
    },
  ],
  findings: [],
  cautions: [],
  sheets: { page: '' },
});

export const readiness = () => ({
  words: ['From the fit-out alone.'],
  jobs: [
    { job: '2D depth', answer: 'ready', text: '', missing: [] },
    { job: 'Scale', answer: 'missing', text: '', missing: ['no pressure sensors'] },
  ],
  cautions: [],
});

const budget = (verdict) => ({
  verdict,
  words: [],
  figures: [
    { group: 'Tooth', label: 'Elevation', text: '24.690 m', uncertainty_text: '± 0.038' },
  ],
  joints_deg: {},
  shares: [{ label: 'receiver, height', percent: 63, text: '63 %' }],
  help: ['Receiver, height: 1 mm better makes U 2.1 mm better.'],
  growth: null,
  monte_carlo: { text: 'Monte Carlo agrees within 1 %.', parts: false },
  worst_joints_deg: { boom: 20 },
  missing: ['play of the pins'],
  findings: [],
  cautions: [],
  sheets: { section: plot('Section'), plan: plot('Plan'), shares: plot('Shares'), growth: '' },
});

export const budget_pose = () =>
  budget({ answer: 'not_shown', text: 'Not shown: the play of the pins is not known.' });

export const budget_map = () => budget({ answer: 'fail', text: 'Does not hold beyond 7.5 m.' });

export const diagnosis = () => ({
  outcome: 'one',
  words: ['The bucket sensor reads 0.60° ± 0.09 too high.'],
  columns: ['Explanation', 'Size', 'Left'],
  rows: [
    { id: 'a', label: 'bucket sensor', cells: ['+0.60° ± 0.09', '18.1'], in_set: true },
    { id: 'b', label: 'worn tooth', cells: ['−21 mm', '34.3'], in_set: false },
  ],
  rule_text: 'Largest gain 21.1; chance alone exceeds 7.5 in 1 of 20 series.',
  doubles: [],
  look_first: ['Look at the bracket of the sensor on the idler.'],
  next_shots: [{ joints_deg: { boom: 20 }, heading_deg: null, words: 'The same mark with the bucket curled in.' }],
  cautions: [],
  not_tried: [],
  findings: [],
  sheets: { arrows: plot('Differences'), ranking: plot('Ranking') },
});
