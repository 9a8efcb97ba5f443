// The page of a lesson: what is set at its sliders is run by the library in a worker and shown as a technician, and as nobody, sees it.
'use strict';
const DATA = JSON.parse(document.getElementById('data').textContent);
const $ = (id) => document.getElementById(id);
const CH = Object.fromEntries(DATA.channels.map((c, i) => [c.id, i])), N = DATA.channels.length;
const EV = Object.fromEntries(DATA.events.map((e, i) => [e.id, i]));
const SURVIVES = 0, SHOE = 1, BORE = 2, PROTECTED = 3;
const INK = '#14202b', PALE = '#5a6672', HOT = '#c2410c', COLD = '#0b5c9e', GHOST = '#9aa4ad', GREEN = '#1b7a4b';

// ---- units ----
let trade = false;
const quantity = (ch) => DATA.quantities[DATA.channels[CH[ch]].quantity];
const shown = (ch, x) => { const q = quantity(ch)[trade ? 'trade' : 'si']; return q.scale * x + q.offset; };
const unit = (ch) => quantity(ch)[trade ? 'trade' : 'si'].word.replace('deg', '°').replace(/barg/, 'bar').replace(/psig/, 'psi');
const digits = (ch) => { const u = unit(ch); return u === 'bar' ? 1 : u === 'K' ? 1 : 0; };
const text = (ch, x) => Number.isFinite(x) ? `${shown(ch, x).toFixed(digits(ch)).replace('-0', '0')} ${unit(ch)}` : '–';
const capital = (s) => s.charAt(0).toUpperCase() + s.slice(1);
const minutes = (s) => s < 120 ? `${s.toFixed(0)} s` : `${(s / 60).toFixed(s < 600 ? 1 : 0)} min`;

// ---- the run: rows of all channels, cycles, events ----
class Run {
  constructor(m) { Object.assign(this, m); this.cycles = this.cycles || new Float64Array(0); }
  get(i, ch) { return this.values[i * N + CH[ch]]; }
  time(i) { return this.get(i, 'time'); }
  get last() { return this.rows - 1; }
  moment(t) { // the row at t; at the end the last one at which the compressor ran
    let i = t === Infinity ? this.last : this.at(t);
    if (t === Infinity) while (i > 0 && !(this.get(i, 'clutch') > 0.5 && this.get(i, 'compressor_speed') > 1 && !(this.time(i) > this.seizure - 2))) i--;
    return i || (t === Infinity ? this.last : 0);
  }
  at(t) { // row at time t
    let a = 0, b = this.last;
    while (a < b) { const m = (a + b + 1) >> 1; if (this.time(m) <= t) a = m; else b = m - 1; }
    return a;
  }
  mean(ch, from, to) { // with the clutch engaged; else of all rows
    let s = [0, 0], n = [0, 0];
    for (let i = 0; i < this.rows; i++) {
      const x = this.get(i, ch), t = this.time(i);
      if (t < from || t > to || !Number.isFinite(x)) continue;
      const k = this.get(i, 'clutch') > 0.5 ? 0 : 1;
      s[k] += x; n[k]++;
    }
    return n[0] ? s[0] / n[0] : n[1] ? s[1] / n[1] : NaN;
  }
  gauge(ch) { // the last five minutes before whatever ends the run; of a short life the last one
    const end = Number.isFinite(this.seizure) ? this.seizure - 5 : this.time(this.last);
    return this.mean(ch, end - (end < 900 ? 60 : 300), end);
  }
  count(event) { let n = 0; for (let k = 1; k < this.events.length; k += 2) n += this.events[k] === EV[event]; return n; }
}
function carried(story) { // a run that the page carries: some channels only
  const r = story.run, values = new Float64Array(r.rows.length * N).fill(NaN);
  r.rows.forEach((row, i) => row.forEach((x, k) => { values[i * N + CH[r.channels[k]]] = x === null ? NaN : x; }));
  return new Run({ rows: r.rows.length, values, events: Float64Array.from(r.events.flat()), cycleSize: 1, finished: true,
    outcome: r.outcome, seizure: r.seizure === null ? NaN : r.seizure, duty: r.duty, protectedBy: r.protectedBy, end: r.end });
}

// ---- what can be set ----
const SLIDERS = [
  { key: 'fault.condenser_blocked.severity', name: 'Condenser air lost', percent: true },
  { key: 'fault.fan_dead.severity', name: 'Fan air lost', percent: true },
  { key: 'fault.undercharge.severity', name: 'Charge lost', percent: true },
  { key: 'fault.oil_short.severity', name: 'Oil lost', percent: true },
  { key: 'conditions.ambient_temperature', name: 'Air outside', lo: 293.15, hi: 321.15, step: 0.5, ch: 'ambient_temperature' },
  { key: 'conditions.compressor_speed', name: 'Compressor speed', lo: 12, hi: 70, step: 0.5, ch: 'compressor_speed' },
  { key: 'conditions.doors_open', name: 'Load: doors', lo: 0, hi: 1, step: 1, words: ['shut', 'open'] }];
const SWITCHES = [
  { fault: 'high_switch_bridged', name: 'high switch bridged' },
  { fault: 'never_cycling', name: 'low switch bridged' },
  { fault: 'relief_blocked', name: 'relief blocked' }].filter((s) => DATA.faults.some((f) => f.id === s.fault));
const state = { story: DATA.stories[0], value: {}, on: {}, t: Infinity, chart: 'pressures', exercise: null };

function storyValue(story, key) {
  const found = story.set.find(([k]) => k === key);
  return found ? found[1] : key.startsWith('fault.') ? 0 : DATA.defaults[key];
}
function load(story) {
  state.story = story;
  for (const s of SLIDERS) state.value[s.key] = storyValue(story, s.key);
  for (const s of SWITCHES) state.on[s.fault] = storyValue(story, `fault.${s.fault}.severity`) > 0.5;
  state.t = Infinity;
}
// what the worker runs: the story's settings with what stands at the sliders; `healthy`: no fault, all switches as they should be
function request(healthy, more) {
  const set = state.story.set.filter(([k]) => !SLIDERS.some((s) => s.key === k) && !SWITCHES.some((s) => k === `fault.${s.fault}.severity`) && !(healthy && k.startsWith('fault.')));
  for (const s of SLIDERS) if (!(healthy && s.key.startsWith('fault.'))) set.push([s.key, state.value[s.key]]);
  for (const s of SWITCHES) if (state.on[s.fault] && !healthy) set.push([`fault.${s.fault}.severity`, 1]);
  const length = (state.story.set.find(([k]) => k === 'run.duration') || ['', DATA.defaults['run.duration']])[1];
  set.push(['run.output_interval', Math.max(2, length / 360)]);
  const all = set.filter(([k, v]) => v !== 0 || !/^fault\..*severity$/.test(k)).concat(more || []), first = /^fault\..*\.severity$/; // a severity resets when its fault begins
  return { set: all.filter(([k]) => first.test(k)).concat(all.filter(([k]) => !first.test(k))), choose: state.story.choose, schedule: state.story.schedule };
}

// ---- the worker ----
let main = carried(state.story), ghost = null, worker = null, busy = false, waiting = null, next = 1, dome = null, jobs = {};
const queue = [];
function start() {
  if (!WASM) return without('this page was made without the part that computes');
  if (typeof WebAssembly === 'undefined' || typeof Worker === 'undefined') return without('this browser cannot run it');
  try {
    worker = new Worker(URL.createObjectURL(new Blob([$('worker').textContent], { type: 'text/javascript' })));
  } catch (wrong) { return without('this browser starts no worker'); }
  worker.onmessage = hear;
  worker.onerror = () => without('the part that computes did not start');
  const bytes = Uint8Array.from(atob(WASM), (c) => c.charCodeAt(0));
  worker.postMessage({ wasm: bytes.buffer, refrigerant: state.story.refrigerant }, [bytes.buffer]);
}
function without(why) {
  worker = null;
  $('state').textContent = `Nothing is computed here: ${why}. Shown is the run that the page carries.`;
  document.querySelectorAll('.controls input, #whatif, #tab-map, #tab-exercise, #tab-bench, #healthy').forEach((e) => { e.disabled = true; });
  document.documentElement.dataset.ready = 'carried';
  redraw();
}
function ask(what, done, first) { // one run after the other; `done` gets it, while it goes on too
  const job = { id: next++, what, done };
  if (first) { for (let i = queue.length - 1; i >= 0; i--) if (queue[i].first) queue.splice(i, 1); job.first = true; queue.unshift(job); } else queue.push(job);
  pump();
}
function pump() {
  if (busy || !worker || !dome || !queue.length) return;
  const job = queue.shift();
  busy = true;
  jobs = { [job.id]: job };
  worker.postMessage(Object.assign({ id: job.id }, job.what));
}
function hear(e) {
  const m = e.data;
  if (m.ready) { dome = m.dome; document.documentElement.dataset.ready = 'computes'; compute(); return; }
  const job = jobs[m.id];
  if (m.failed) { busy = false; $('state').textContent = $('rank-state').textContent = m.wrong; return pump(); }
  if (m.task) { busy = false; job.done(m); return pump(); }
  if (m.finished) busy = false;
  if (job) job.done(new Run(m));
  if (m.finished) pump();
}
function compute() {
  if (!worker) return redraw();
  const asked = performance.now();
  ask(request(false), (run) => {
    main = run;
    if (run.finished) { document.documentElement.dataset.took = (performance.now() - asked).toFixed(0); $('state').textContent = ''; }
    redraw();
  }, true);
  ask(request(true), (run) => { if (run.finished) { ghost = run; redraw(); if (main.finished && !cycles(main)) askCurves(); } });
}

// ---- words ----
function sentence(run) {
  const vent = text('vent_temperature', run.gauge('vent_temperature')), head = text('discharge_pressure', run.gauge('discharge_pressure'));
  const shell = run.get(run.moment(Infinity), 'shell_temperature'), end = run.time(run.last);
  const signs = `vent ${vent}, high side ${head}, shell ${text('shell_temperature', shell)}`;
  if (!run.finished) return `Computing: ${minutes(end)} so far; ${signs}.`;
  if (run.outcome === SHOE) return `A shoe welds after ${minutes(run.seizure)}. ${capital(signs)}${shell < 363 ? ': the infra-red gun would not have told' : ''}.`;
  if (run.outcome === BORE) return `A piston seizes after ${minutes(run.seizure)}. ${capital(signs)}.`;
  if (run.outcome === PROTECTED) return `Kept alive by a switch: ${DATA.events[run.protectedBy].help} ${run.count(DATA.events[run.protectedBy].id)} times in ${minutes(end)}. ${capital(signs)}.`;
  if (run.outcome > PROTECTED) return `Lost after ${minutes(end)}. ${capital(signs)}.`;
  const rise = (run.get(run.last, 'rotor_temperature') - run.get(run.at(end - 300), 'rotor_temperature')) / 5;
  return `Lives through these ${minutes(end)}${rise > 0.5 ? `, still warming by ${rise.toFixed(1)} K a minute: not at rest` : ''}. ${capital(signs)}.`;
}

// ---- drawing ----
function pen(id) {
  const c = $(id), k = Math.max(1, Math.min(2, window.devicePixelRatio || 1)), w = +c.dataset.w || (c.dataset.w = c.width), h = +c.dataset.h || (c.dataset.h = c.height);
  if (c.width !== w * k) { c.width = w * k; c.height = h * k; }
  const g = c.getContext('2d');
  g.setTransform(k, 0, 0, k, 0, 0);
  g.clearRect(0, 0, w, h);
  g.size = w < 1000 ? 27 : 23;
  g.font = `${g.size}px Liberation Sans, Arial, sans-serif`;
  g.lineWidth = 2;
  g.textBaseline = 'middle';
  return Object.assign(g, { w: +w, h: +h });
}
function nice(range, parts) {
  const raw = range / parts, p = 10 ** Math.floor(Math.log10(raw)), m = raw / p;
  return (m <= 1 ? 1 : m <= 2 ? 2 : m <= 2.5 && p >= 10 ? 2.5 : m <= 5 ? 5 : 10) * p;
}
function dial(id, ch, most, colour) {
  const g = pen(id), x = g.w / 2, y = g.h / 2 + 20, r = 165, run = main, i = run.moment(state.t), si = run.get(i, ch), v = shown(ch, si);
  const top = shown(ch, most), low = shown(ch, 0.3e5), angle = (a) => (0.75 + 1.5 * Math.max(0, Math.min(1, (a - low) / (top - low)))) * Math.PI;
  g.lineWidth = 8; g.strokeStyle = '#d4dade';
  g.beginPath(); g.arc(x, y, r, 0.75 * Math.PI, 2.25 * Math.PI); g.stroke();
  const step = nice(top - low, 7);
  g.fillStyle = INK; g.textAlign = 'center'; g.lineWidth = 2; g.strokeStyle = INK;
  for (let a = Math.ceil(low / step) * step; a <= top + 1e-9; a += step) {
    const c = Math.cos(angle(a)), s = Math.sin(angle(a));
    g.beginPath(); g.moveTo(x + (r - 8) * c, y + (r - 8) * s); g.lineTo(x + (r + 4) * c, y + (r + 4) * s); g.stroke();
    g.fillText(String(Math.round(a * 10) / 10), x + (r - 36) * c, y + (r - 36) * s);
  }
  if (ghost) needle(g, x, y, angle(shown(ch, ghost.get(ghost.moment(state.t), ch))), r - 46, GHOST, 3);
  needle(g, x, y, angle(v), r - 20, colour, 6);
  g.fillStyle = colour; g.font = 'bold 46px Liberation Sans, Arial, sans-serif';
  g.fillText(Number.isFinite(v) ? v.toFixed(digits(ch)) : '–', x, y + 76);
  g.font = '27px Liberation Sans, Arial, sans-serif'; g.fillStyle = PALE;
  g.fillText(`${ch === 'suction_pressure' ? 'low side' : 'high side'}, ${unit(ch)}`, x, y + 118);
  $(id).setAttribute('aria-label', `${ch === 'suction_pressure' ? 'Low' : 'High'} side ${text(ch, si)}`);
}
function needle(g, x, y, a, r, colour, width) {
  if (!Number.isFinite(a)) return;
  g.strokeStyle = colour; g.lineWidth = width; g.lineCap = 'round';
  g.beginPath(); g.moveTo(x - 18 * Math.cos(a), y - 18 * Math.sin(a)); g.lineTo(x + r * Math.cos(a), y + r * Math.sin(a)); g.stroke();
  g.fillStyle = colour; g.beginPath(); g.arc(x, y, width + 2, 0, 7); g.fill();
}
function tile(name, value, extra) { return `<div class="tile"><span>${name}</span><b${extra || ''}>${value}</b></div>`; }
function technician() {
  const i = main.moment(state.t), v = (ch) => text(ch, main.get(i, ch)), clutch = main.get(i, 'clutch') > 0.5, sub = main.get(i, 'subcooling');
  const glass = !clutch ? 'clutch out' : sub > 1 ? 'clear' : sub > 0 ? 'few bubbles' : 'bubbles';
  $('tiles').innerHTML = tile('Centre vent', v('vent_temperature')) + tile('Clamp, discharge pipe', v('discharge_temperature')) + tile('Infra-red gun, shell', v('shell_temperature')) +
    tile('Clamp, suction pipe', v('suction_temperature')) + tile('Sight glass', glass) + tile('Clutch', clutch ? 'engaged' : 'out', ` style="color:${clutch ? GREEN : PALE}"`);
}
function signs() {
  const body = $('signs').tBodies[0], rows = [['Low side', 'suction_pressure', 8e3], ['High side', 'discharge_pressure', 6e4], ['Superheat, suction', 'superheat', 2], ['Subcooling', 'subcooling', 1.5],
    ['Discharge pipe', 'discharge_temperature', 3], ['Vent', 'vent_temperature', 1.5], ['Shell', 'shell_temperature', 3]];
  body.innerHTML = rows.map(([name, ch, least]) => {
    const a = ghost ? ghost.gauge(ch) : NaN, b = main.gauge(ch), d = b - a;
    const arrow = !(Math.abs(d) > least) ? '<td>–</td>' : d > 0 ? `<td class="up">▲${d > 4 * least ? '▲' : ''} up</td>` : `<td class="down">▼${-d > 4 * least ? '▼' : ''} down</td>`;
    return `<tr><th scope="row">${name}</th><td>${text(ch, a)}</td><td>${text(ch, b)}</td>${arrow}</tr>`;
  }).join('');
}
const heatColour = (T) => { // pale blue at 30 degC over yellow to red at 240
  const k = Math.max(0, Math.min(1, (T - 303) / 210)), stops = [[120, 170, 210], [245, 222, 120], [226, 110, 30], [150, 10, 20]];
  const a = Math.min(2, Math.floor(k * 3)), f = k * 3 - a;
  return `rgb(${stops[a].map((c, j) => Math.round(c + f * (stops[a + 1][j] - c))).join(',')})`;
};
function cutAway() {
  const g = pen('cut'), i = main.moment(state.t), T = (ch) => main.get(i, ch), box = (x, y, w, h, ch) => { g.fillStyle = heatColour(T(ch)); g.fillRect(x, y, w, h); g.strokeStyle = INK; g.lineWidth = 2; g.strokeRect(x, y, w, h); };
  box(70, 40, 500, 300, 'shell_temperature');
  g.fillStyle = '#f4f6f7'; g.fillRect(92, 62, 456, 256);
  box(92, 62, 60, 256, 'head_temperature'); box(488, 62, 60, 256, 'head_temperature');
  box(152, 62, 336, 44, 'block_temperature'); box(152, 274, 336, 44, 'block_temperature');
  box(160, 114, 320, 34, 'piston_temperature'); box(160, 232, 320, 34, 'piston_temperature');
  g.fillStyle = heatColour(T('rotor_temperature'));
  g.fillRect(30, 178, 560, 24); g.strokeRect(30, 178, 560, 24);
  g.save(); g.translate(320, 190); g.rotate(0.32); g.fillRect(-14, -104, 28, 208); g.strokeRect(-14, -104, 28, 208); g.restore();
  g.fillStyle = heatColour(T('contact_temperature'));
  for (const [x, y] of [[264, 131], [322, 131], [318, 249], [376, 249]]) { g.beginPath(); g.arc(x, y, 13, 0, 7); g.fill(); g.stroke(); }
  g.fillStyle = '#2f5d33'; const oil = Math.max(0, Math.min(1, T('oil_mass') / ((ghost || main).get(0, 'oil_mass') || 0.1)));
  g.fillRect(600, 318 - 256 * oil, 26, 256 * oil); g.strokeRect(600, 62, 26, 256);
  g.fillStyle = INK; g.textAlign = 'center'; g.fillText('oil', 613, 46);
  film(g, T('film_ratio'), T('boundary_share'));
  $('cut').setAttribute('aria-label', `Cut through the compressor: rotor ${text('rotor_temperature', T('rotor_temperature'))}, heads ${text('head_temperature', T('head_temperature'))}, contact ${text('contact_temperature', T('contact_temperature'))}, film ratio ${T('film_ratio').toFixed(1)}`);
}
function film(g, ratio, share) { // the gap between shoe and plate, against the height of its roughness
  const x = (v) => 96 + 70 * Math.min(7, v), y = 392;
  for (const [a, b, c, w] of [[0, 1, '#f3c9b3', 'touch'], [1, 3, '#fbf0b8', 'mixed'], [3, 7, '#d5e8d8', 'clear film']]) {
    g.fillStyle = c; g.fillRect(x(a), y - 20, x(b) - x(a), 40);
    g.fillStyle = INK; g.textAlign = 'center'; g.fillText(w, (x(a) + x(b)) / 2, y);
  }
  g.textAlign = 'left'; g.fillText('film', 44, y);
  if (!Number.isFinite(ratio)) return;
  g.fillStyle = INK; g.beginPath(); g.moveTo(x(ratio), y + 18); g.lineTo(x(ratio) - 10, y + 38); g.lineTo(x(ratio) + 10, y + 38); g.fill();
  g.textAlign = 'center'; g.fillText(`${ratio.toFixed(1)} × roughness, ${(100 * share).toFixed(0)} % on metal`, Math.max(230, Math.min(420, x(ratio))), y + 58);
}
function inside() {
  const i = main.moment(state.t), v = (ch) => text(ch, main.get(i, ch));
  $('inside').innerHTML = tile('Rotor, plate, shoes', v('rotor_temperature')) + tile('Shoe contact', v('contact_temperature')) + tile('Gas in the heads', v('discharge_gas_temperature'));
}
function cyclePoints(run, i) {
  const size = run.cycleSize, half = (size - 1) / 2, points = [];
  for (let row = i; row >= 0 && row > i - 60 && size > 1; row--) { // the last one with the clutch engaged
    const n = run.cycles[row * size];
    for (let k = 0; k < n; k++) points.push([run.cycles[row * size + 1 + k], run.cycles[row * size + 1 + half + k]]);
    if (n) break;
  }
  return points;
}
function loop() {
  const g = pen('loop'), x = (h) => 70 + (h - 150e3) / (560e3 - 150e3) * 550, y = (P) => 420 - Math.log(P / 0.6e5) / Math.log(60e5 / 0.6e5) * 400;
  g.strokeStyle = PALE; g.lineWidth = 1; g.fillStyle = PALE; g.textAlign = 'right';
  for (const bar of [1, 2, 5, 10, 20, 50]) { g.beginPath(); g.moveTo(70, y(bar * 1e5)); g.lineTo(620, y(bar * 1e5)); g.globalAlpha = 0.3; g.stroke(); g.globalAlpha = 1; g.fillText(trade ? `${Math.round(bar * 14.5)}` : String(bar), 62, y(bar * 1e5)); }
  g.textAlign = 'left'; g.fillText(trade ? 'psi absolute' : 'bar absolute', 8, 12); g.textAlign = 'center'; g.fillText('heat in the refrigerant →', 345, 452);
  if (dome) {
    g.strokeStyle = INK; g.lineWidth = 2.5; g.beginPath();
    for (let k = 0; k < dome.length; k += 3) g.lineTo(x(dome[k + 1]), y(dome[k]));
    for (let k = dome.length - 3; k >= 0; k -= 3) g.lineTo(x(dome[k + 2]), y(dome[k]));
    g.stroke();
  }
  const trace = (points, colour, width) => { if (!points.length) return; g.strokeStyle = colour; g.lineWidth = width; g.beginPath(); points.concat([points[0]]).forEach(([P, h]) => g.lineTo(x(h), y(P))); g.stroke(); };
  if (ghost) trace(cyclePoints(ghost, ghost.last), GHOST, 4);
  trace(cyclePoints(main, main.moment(state.t)), HOT, 4);
  $('loop').setAttribute('aria-label', 'The refrigerant\'s way round in pressure and enthalpy, over the healthy one in grey');
}
// Gain and loss of heat over the rotor's temperature, all else at rest: where they cross a machine stays, where the gain lies above it runs away.
const curves = { key: '', T: [], gain: [], loss: [], least: 293.15, most: 543.15, points: 26, why: '' };
const cycles = (run) => run.count('clutch_off') > 3;
function askCurves() { // after the run, in pairs, so that a slider never waits long
  const what = request(false, [['run.output_interval', 60]]), key = JSON.stringify(what);
  if (curves.key === key) return;
  Object.assign(curves, { key, T: [], gain: [], loss: [] });
  for (let i = 0; i < curves.points; i += 2) {
    const at = (k) => curves.least + (curves.most - curves.least) * k / (curves.points - 1);
    ask({ heat: { case: what, from: at(i), to: at(i + 1) } }, (m) => {
      if (curves.key !== key) return;
      for (const k of [0, 1]) { curves.T[i + k] = at(i + k); curves.gain[i + k] = m.heat ? m.heat[k] : NaN; curves.loss[i + k] = m.heat ? m.heat[2 + k] : NaN; }
      drawCurves();
    });
  }
}
const metalHeat = (run, i) => { // [gained, lost] at a row [W]
  const sum = [0, 0];
  for (const c of DATA.channels) if (c.body) { const w = run.get(i, c.id); if (Number.isFinite(w)) sum[w > 0 ? 0 : 1] += Math.abs(w); }
  return sum;
};
function drawCurves() {
  const g = pen('curves'), L = 84, R = g.w - 16, T = 34, B = g.h - 64, i = main.moment(state.t), now = metalHeat(main, i), here = main.get(i, 'rotor_temperature');
  const seen = curves.gain.concat(curves.loss).filter(Number.isFinite), most = Math.max(400, ...seen.map((w) => Math.min(w, 4000)), Math.min(4000, now[0])) * 1.05;
  const x = (K) => L + (R - L) * (K - curves.least) / (curves.most - curves.least), y = (w) => B - (B - T) * Math.min(w, most) / most, step = nice(most, 4);
  g.fillStyle = PALE; g.strokeStyle = '#d4dade'; g.lineWidth = 1; g.textAlign = 'right';
  for (let w = 0; w <= most; w += step) { g.beginPath(); g.moveTo(L, y(w)); g.lineTo(R, y(w)); g.stroke(); g.fillText(String(w), L - 8, y(w)); }
  g.textAlign = 'left'; g.fillText('W', 8, 16); g.textAlign = 'center';
  for (const C of [50, 100, 150, 200, 250]) g.fillText(String(Math.round(shown('rotor_temperature', C + 273.15))), x(C + 273.15), B + 20);
  g.fillText(`rotor, ${unit('rotor_temperature')}`, (L + R) / 2, B + 50);
  const line = (values, colour, dash) => { g.strokeStyle = colour; g.lineWidth = 4; g.setLineDash(dash); g.beginPath(); let broken = true; curves.T.forEach((K, k) => { if (!Number.isFinite(values[k])) { broken = true; return; } if (broken) g.moveTo(x(K), y(values[k])); else g.lineTo(x(K), y(values[k])); broken = false; }); g.stroke(); g.setLineDash([]); };
  const why = cycles(main) ? 'the clutch cycles: no rest' : '';
  if (!why) { line(curves.loss, COLD, [12, 6]); line(curves.gain, HOT, []); }
  g.textAlign = 'left'; g.fillStyle = HOT; g.fillText('made', L + 12, T - 14); g.fillStyle = COLD; g.fillText('carried away', L + 92, T - 14);
  if (why) { g.fillStyle = INK; g.textAlign = 'center'; g.fillText(why, (L + R) / 2, (T + B) / 2); }
  g.strokeStyle = INK; g.lineWidth = 2; g.beginPath(); // the way of the running point so far
  for (let k = why ? i + 1 : 0; k <= i; k += Math.max(1, Math.floor(i / 200))) { const w = metalHeat(main, k)[0]; if (main.get(k, 'clutch') > 0.5) g.lineTo(x(main.get(k, 'rotor_temperature')), y(w)); }
  g.globalAlpha = 0.4; g.stroke(); g.globalAlpha = 1;
  if (Number.isFinite(here)) { g.fillStyle = INK; g.beginPath(); g.arc(x(here), y(now[0]), 9, 0, 7); g.fill(); }
  $('curves').setAttribute('aria-label', `Heat of the metal over the rotor's temperature: now ${text('rotor_temperature', here)}, made ${now[0].toFixed(0)} W, carried away ${now[1].toFixed(0)} W${why ? '; ' + why : ''}`);
}
function heat() { // what heats and what cools the metal at this moment
  const g = pen('heat'), i = main.moment(state.t), sum = { up: [], down: [] };
  for (const c of DATA.channels) if (c.body) { const w = main.get(i, c.id); if (Number.isFinite(w) && Math.abs(w) > 1) sum[w > 0 ? 'up' : 'down'].push([c.id.replace('heat_', '').replace(/_/g, ' '), Math.abs(w)]); }
  const total = (a) => a.reduce((s, b) => s + b[1], 0), most = Math.max(total(sum.up), total(sum.down), 200), shades = { up: ['#b4380b', '#d9773f', '#eab08b'], down: ['#0b5c9e', '#5b95c4', '#a5c7e2'] };
  [['up', 'made', 20], ['down', 'carried away', 152]].forEach(([k, word, y]) => { // a bar, below it its largest parts by name
    let x = 0;
    g.fillStyle = INK; g.textAlign = 'left'; g.fillText(`${word} ${total(sum[k]).toFixed(0)} W`, 0, y);
    sum[k].sort((a, b) => b[1] - a[1]).forEach(([, w], n) => { const width = (g.w - 4) * w / most; g.fillStyle = shades[k][n % 3]; g.fillRect(x, y + 18, width, 34); x += width; });
    sum[k].slice(0, 2).forEach(([name, w], n) => { g.fillStyle = INK; g.textAlign = 'left'; g.fillText(`${name} ${w.toFixed(0)}`, n * g.w / 2, y + 72); });
  });
  $('heat').setAttribute('aria-label', `Heat made ${total(sum.up).toFixed(0)} W, carried away ${total(sum.down).toFixed(0)} W`);
}
const CHARTS = {
  pressures: [['discharge_pressure', 'high side', HOT, []], ['suction_pressure', 'low side', COLD, [10, 5]]],
  temperatures: [['contact_temperature', 'shoe contact', HOT, []], ['rotor_temperature', 'rotor', '#8a5a00', [10, 4]], ['discharge_temperature', 'discharge pipe', INK, [3, 4]], ['shell_temperature', 'shell', COLD, [12, 4, 3, 4]], ['vent_temperature', 'vent', GREEN, []]],
  film: [['film_ratio', 'film over roughness', HOT, []]] };
function chart() {
  const g = pen('chart'), L = 90, R = g.w - 260, T = 40, B = g.h - 40, end = Math.max(60, main.finished ? main.time(main.last) : DATA.defaults['run.duration'], ghost ? ghost.time(ghost.last) : 0);
  const lines = CHARTS[state.chart], value = (run, i, ch) => { const x = run.get(i, ch); return ch === 'film_ratio' ? Math.min(8, x) : shown(ch, x); };
  let lo = Infinity, hi = -Infinity;
  for (const run of [main, ghost]) if (run) for (const [ch] of lines) for (let i = 0; i < run.rows; i++) { const v = value(run, i, ch); if (Number.isFinite(v)) { lo = Math.min(lo, v); hi = Math.max(hi, v); } }
  if (!(hi > lo)) { lo = 0; hi = 1; }
  if (state.chart === 'pressures') lo = Math.min(0, lo);
  const x = (t) => L + (R - L) * t / end, y = (v) => B - (B - T) * (v - lo) / (hi - lo || 1), step = nice(hi - lo, 5), tick = nice(end / 60, 10);
  g.fillStyle = PALE; g.strokeStyle = '#d4dade'; g.textAlign = 'right'; g.lineWidth = 1;
  for (let v = Math.ceil(lo / step) * step; v <= hi; v += step) { g.beginPath(); g.moveTo(L, y(v)); g.lineTo(R, y(v)); g.stroke(); g.fillText(String(Math.round(100 * v) / 100), L - 10, y(v)); }
  g.textAlign = 'center';
  for (let m = 0; m <= end / 60 + 1e-9; m += tick) g.fillText(String(Math.round(10 * m) / 10), x(60 * m), B + 20);
  g.textAlign = 'left'; g.fillText(state.chart === 'film' ? 'film ratio' : unit(lines[0][0]), 8, T - 22); g.fillText('min', R + 34, B + 20);
  const ends = [];
  for (const [run, pale] of [[ghost, true], [main, false]]) if (run) for (const [ch, word, colour, dash] of lines) {
    g.strokeStyle = pale ? GHOST : colour; g.lineWidth = pale ? 2 : 3.5; g.setLineDash(dash); g.beginPath();
    let drawn = NaN;
    const means = cycles(run) ? engagedMeans(run, ch, 60) : null;
    if (means) drawn = swing(g, means, x, (v) => y(ch === 'film_ratio' ? Math.min(8, v) : shown(ch, v)), pale ? GHOST : colour);
    for (let i = 0, broken = true; i < (means ? 0 : run.rows); i++) { const v = value(run, i, ch); if (!Number.isFinite(v)) { broken = true; continue; } if (broken) g.moveTo(x(run.time(i)), y(v)); else g.lineTo(x(run.time(i)), y(v)); broken = false; drawn = v; }
    g.stroke();
    if (!pale && Number.isFinite(drawn)) ends.push([means ? drawn : y(drawn), word, colour]);
  }
  g.setLineDash([]);
  ends.sort((a, b) => a[0] - b[0]).reduce((last, e) => { const at = Math.max(e[0], last + 26); g.fillStyle = e[2]; g.fillText(e[1], R + 14, at); return at; }, T - 40);
  flags(g, x, T, B);
  const t = Math.min(state.t, main.time(main.last));
  g.strokeStyle = INK; g.lineWidth = 2; g.beginPath(); g.moveTo(x(t), T - 10); g.lineTo(x(t), B); g.stroke();
  $('chart').setAttribute('aria-label', `${state.chart} over ${minutes(end)}; ${$('sentence').textContent}`);
  $('chart').dataset.left = L; $('chart').dataset.right = R; $('chart').dataset.end = end;
}
// Of a run whose clutch cycles, window by window: mean with the clutch engaged (else of what there is), least and greatest.
function engagedMeans(run, ch, count) {
  const end = run.time(run.last), windows = Array.from({ length: count }, (_, k) => ({ t: end * (k + 0.5) / count, on: [0, 0], all: [0, 0], low: Infinity, high: -Infinity }));
  for (let i = 0; i < run.rows; i++) {
    const v = run.get(i, ch), w = windows[Math.min(count - 1, Math.floor(count * run.time(i) / (end || 1)))];
    if (!Number.isFinite(v)) continue;
    w.all[0] += v; w.all[1]++; w.low = Math.min(w.low, v); w.high = Math.max(w.high, v);
    if (run.get(i, 'clutch') > 0.5) { w.on[0] += v; w.on[1]++; }
  }
  return windows.filter((w) => w.all[1]).map((w) => ({ t: w.t, low: w.low, high: w.high, mean: w.on[1] ? w.on[0] / w.on[1] : w.all[0] / w.all[1] }));
}
function swing(g, means, x, y, colour) { // the line of means over a pale band of the swing; returns where it ends
  g.globalAlpha = 0.16; g.fillStyle = colour; g.beginPath();
  means.forEach((w) => g.lineTo(x(w.t), y(w.high)));
  means.slice().reverse().forEach((w) => g.lineTo(x(w.t), y(w.low)));
  g.fill(); g.globalAlpha = 1; g.beginPath();
  means.forEach((w) => g.lineTo(x(w.t), y(w.mean)));
  return means.length ? y(means[means.length - 1].mean) : NaN;
}
function flags(g, x, T, B) {
  const marked = ['high_pressure_open', 'low_pressure_open', 'relief_open', 'film_lost', 'contact_overheated', 'shoe_seizure', 'bore_seizure', 'fuse_open'].map((e) => EV[e]), seen = {};
  let right = -Infinity;
  g.font = '20px Liberation Sans, Arial, sans-serif';
  for (let k = 0; k < main.events.length; k += 2) {
    const [t, e] = [main.events[k], main.events[k + 1]];
    if (!marked.includes(e)) continue;
    g.strokeStyle = '#a3121f'; g.lineWidth = seen[e] ? 0.6 : 2; g.beginPath(); g.moveTo(x(t), seen[e] ? B - 12 : T - 14); g.lineTo(x(t), B); g.stroke();
    const word = DATA.events[e].help;
    if (!seen[e] && x(t) > right) { g.fillStyle = '#a3121f'; const wide = g.measureText(word).width; const left = x(t) + wide > g.w - 20; g.textAlign = left ? 'right' : 'left'; g.fillText(word, x(t) + (left ? -6 : 6), T - 24); right = left ? x(t) : x(t) + wide + 20; }
    seen[e] = true;
  }
}
function redraw() {
  const run = main, end = run.time(run.last), t = Math.min(state.t, end);
  if (!state.exercise) $('sentence').textContent = sentence(run);
  $('clock').textContent = minutes(t);
  $('scrub').value = state.t === Infinity ? 360 : Math.round(360 * t / (end || 1));
  $('danger').firstElementChild.style.width = `${Math.round(100 * Math.min(1, Number.isFinite(run.seizure) ? 1 : (run.get(run.moment(state.t), 'boundary_share') || 0) / 0.5))}%`;
  dial('low', 'suction_pressure', 8e5, COLD); dial('high', 'discharge_pressure', 41e5, HOT);
  technician(); signs(); cutAway(); loop(); inside(); heat(); drawCurves(); chart();
  if (!$('map').classList.contains('hidden')) drawMap();
}

// ---- controls ----
function sliderText(s, v) { return s.percent ? `${Math.round(100 * v)} %` : s.words ? s.words[v > 0.5 ? 1 : 0] : text(s.ch, v); }
function buildControls() {
  $('title').textContent = DATA.title;
  DATA.stories.forEach((story, k) => { const b = document.createElement('button'); b.textContent = story.name.split(/[,:]/)[0]; b.title = story.name; b.onclick = () => { load(story); fillControls(); ghost = null; main = carried(story); redraw(); compute(); }; b.dataset.story = k; $('stories').append(b); });
  for (const s of SLIDERS) {
    const label = document.createElement('label'); label.className = 'slider';
    label.innerHTML = `<span>${s.name}</span><output></output><input type="range" min="${s.lo ?? 0}" max="${s.hi ?? 1}" step="${s.step ?? 0.01}">`;
    s.input = label.querySelector('input'); s.output = label.querySelector('output');
    s.input.oninput = () => { state.value[s.key] = +s.input.value; s.output.textContent = sliderText(s, state.value[s.key]); changed(!s.key.startsWith('fault.')); };
    $('sliders').append(label);
  }
  for (const s of SWITCHES) {
    const label = document.createElement('label'); label.className = 'switch';
    label.innerHTML = `<input type="checkbox"> ${s.name} <strong></strong>`;
    s.input = label.querySelector('input'); s.word = label.querySelector('strong');
    s.input.onchange = () => { state.on[s.fault] = s.input.checked; s.word.textContent = s.input.checked ? 'never on a car!' : ''; changed(false); };
    $('switches').append(label);
  }
}
function fillControls() {
  for (const s of SLIDERS) {
    const driven = state.story.schedule && s.key.startsWith('conditions.') && state.story.schedule[s.key.slice(11)];
    s.input.value = state.value[s.key]; s.input.disabled = Boolean(driven) || !worker;
    s.output.textContent = driven ? 'as driven' : sliderText(s, state.value[s.key]);
  }
  for (const s of SWITCHES) { s.input.checked = state.on[s.fault]; s.word.textContent = state.on[s.fault] ? 'never on a car!' : ''; }
  document.querySelectorAll('#stories button').forEach((b) => b.setAttribute('aria-pressed', String(DATA.stories[b.dataset.story] === state.story)));
}
let timer = 0;
function changed(base) { if (base) ghost = null; clearTimeout(timer); timer = setTimeout(() => { queue.length = 0; compute(); }, 60); }
function press(group, chosen) { group.forEach((b) => b.setAttribute('aria-pressed', String(b === chosen))); }
function wire() {
  const charts = [...document.querySelectorAll('[data-chart]')];
  charts.forEach((b) => { b.onclick = () => { state.chart = b.dataset.chart; press(charts, b); redraw(); }; });
  $('scrub').oninput = () => { const k = +$('scrub').value; state.t = k === 360 ? Infinity : k / 360 * main.time(main.last); redraw(); };
  $('chart').onclick = (e) => { const c = $('chart'), r = c.getBoundingClientRect(), at = (e.clientX - r.left) / r.width * c.dataset.w; state.t = Math.max(0, (at - c.dataset.left) / (c.dataset.right - c.dataset.left) * c.dataset.end); redraw(); };
  $('units').onclick = () => { const ids = ['sheet', 'gauges'], typed = ids.map((id) => readTable(id)); if ($('doors')) readLabel(); trade = !trade; if ($('doors')) { ids.forEach((id, k) => buildTable(id, typed[k], Array.from($(id).tBodies[0].rows, (r) => r.cells[0].textContent))); buildLabel(); } $('units').setAttribute('aria-pressed', String(trade)); fillControls(); redraw(); };
  $('letters').onclick = () => { const on = document.documentElement.classList.toggle('large'); $('letters').setAttribute('aria-pressed', String(on)); redraw(); };
  $('healthy').onclick = () => { for (const s of SLIDERS) if (s.key.startsWith('fault.')) state.value[s.key] = 0; for (const s of SWITCHES) state.on[s.fault] = false; fillControls(); compute(); };
  $('whatif').onclick = () => { const on = !SWITCHES.every((s) => state.on[s.fault]); for (const s of SWITCHES) state.on[s.fault] = on; fillControls(); compute(); };
  $('play').onclick = play;
  const tabs = [$('tab-class'), $('tab-map'), $('tab-exercise'), $('tab-bench')];
  $('tab-bench').onclick = () => { press(tabs, $('tab-bench')); show('bench'); buildBench(); };
  $('rank').onclick = rankSheet; $('fit').onclick = fitGauges;
  $('tab-class').onclick = () => { press(tabs, $('tab-class')); show('class'); };
  $('tab-map').onclick = () => { press(tabs, $('tab-map')); show('map'); startMap(); };
  $('tab-exercise').onclick = () => { press(tabs, $('tab-exercise')); show('exercise'); startExercise(); };
  addEventListener('resize', redraw);
}
function show(tab) {
  $('map').classList.toggle('hidden', tab !== 'map');
  $('exercise').classList.toggle('hidden', tab !== 'exercise');
  $('bench').classList.toggle('hidden', tab !== 'bench');
  for (const id of ['class', 'time', 'stories', 'danger']) $(id).classList.toggle('hidden', tab !== 'class');
  $('sentence').classList.toggle('hidden', tab === 'bench' || tab === 'map');
  if (tab !== 'exercise' && state.exercise) { state.exercise = null; load(DATA.stories[0]); fillControls(); compute(); }
  redraw();
}
let playing = 0;
function play() {
  if (playing) { cancelAnimationFrame(playing); playing = 0; $('play').textContent = 'Play'; return; }
  $('play').textContent = 'Pause';
  let before = performance.now();
  if (state.t >= main.time(main.last)) state.t = 0;
  const step = (clock) => {
    state.t += (clock - before) / 1000 * +$('pace').value; before = clock;
    if (state.t >= main.time(main.last)) { state.t = Infinity; playing = 0; $('play').textContent = 'Play'; redraw(); return; }
    redraw();
    playing = requestAnimationFrame(step);
  };
  playing = requestAnimationFrame(step);
}

// ---- the map of two numbers ----
const map = { cols: 13, rows: 9, cell: new Map(), fault: 'condenser_blocked' };
function mapKey(i, j) { return `${map.fault}/${i}/${j}/${state.on.high_switch_bridged}/${state.on.never_cycling}`; }
const mapAmbient = (j) => 293.15 + 3.5 * j, mapSeverity = (i) => i / (map.cols - 1) * 0.96;
function startMap() {
  queue.length = 0;
  for (let i = 0; i < map.cols; i++) for (let j = 0; j < map.rows; j++) {
    const key = mapKey(i, j);
    if (map.cell.has(key)) continue;
    const what = request(true, [[`fault.${map.fault}.severity`, mapSeverity(i)], ['conditions.ambient_temperature', mapAmbient(j)], ['run.output_interval', 60]].concat(SWITCHES.filter((s) => state.on[s.fault]).map((s) => [`fault.${s.fault}.severity`, 1])));
    what.set = what.set.filter(([k, v]) => !(k.startsWith('fault.') && v === 0));
    ask(what, (run) => { if (run.finished) { map.cell.set(key, { outcome: run.outcome, seizure: run.seizure, head: run.gauge('discharge_pressure') }); drawMap(); } });
  }
  drawMap();
}
function drawMap() {
  const g = pen('map-canvas'), L = 170, T = 20, w = (g.w - L - 20) / map.cols, h = (g.h - T - 70) / map.rows;
  let done = 0;
  g.textAlign = 'center';
  for (let i = 0; i < map.cols; i++) for (let j = 0; j < map.rows; j++) {
    const c = map.cell.get(mapKey(i, j)), x = L + i * w, y = T + (map.rows - 1 - j) * h;
    done += Boolean(c);
    g.fillStyle = !c ? '#e6eaed' : c.outcome === SURVIVES ? '#d5e8d8' : c.outcome === PROTECTED ? '#fbf0b8' : c.seizure > 600 ? '#e9a28a' : '#a3121f';
    g.fillRect(x + 1, y + 1, w - 2, h - 2);
    g.fillStyle = c && c.outcome !== SURVIVES && c.outcome !== PROTECTED && !(c.seizure > 600) ? '#fff' : INK;
    if (c) g.fillText(c.outcome === SURVIVES ? 'lives' : c.outcome === PROTECTED ? 'switch' : Number.isFinite(c.seizure) ? minutes(c.seizure) : 'lost', x + w / 2, y + h / 2);
  }
  g.fillStyle = INK;
  for (let j = 0; j < map.rows; j++) { g.textAlign = 'right'; g.fillText(text('ambient_temperature', mapAmbient(j)), L - 12, T + (map.rows - 0.5 - j) * h); }
  for (let i = 0; i < map.cols; i++) { g.textAlign = 'center'; g.fillText(`${Math.round(100 * mapSeverity(i))} %`, L + (i + 0.5) * w, g.h - 50); }
  g.fillText(`severity of ${map.fault.replace(/_/g, ' ')}`, (L + g.w) / 2, g.h - 18);
  $('map-state').textContent = done < map.cols * map.rows ? `${done} of ${map.cols * map.rows} runs` : '';
  $('map-canvas').setAttribute('aria-label', `Map: ${done} of ${map.cols * map.rows} runs done`);
}
function wireMap() {
  for (const f of ['condenser_blocked', 'undercharge', 'oil_short', 'fan_dead', 'overspeed', 'air_in_system']) { const o = document.createElement('option'); o.value = f; o.textContent = f.replace(/_/g, ' '); $('map-fault').append(o); }
  $('map-fault').onchange = () => { map.fault = $('map-fault').value; startMap(); };
  $('map-canvas').onclick = (e) => {
    const c = $('map-canvas'), r = c.getBoundingClientRect(), x = (e.clientX - r.left) / r.width * c.dataset.w, y = (e.clientY - r.top) / r.height * c.dataset.h, w = (c.dataset.w - 190) / map.cols, h = (c.dataset.h - 90) / map.rows;
    const i = Math.floor((x - 170) / w), j = map.rows - 1 - Math.floor((y - 20) / h), slider = SLIDERS.find((s) => s.key === `fault.${map.fault}.severity`);
    if (i < 0 || i >= map.cols || j < 0 || j >= map.rows || !slider) return;
    for (const s of SLIDERS) if (s.key.startsWith('fault.')) state.value[s.key] = 0;
    state.value[slider.key] = mapSeverity(i); state.value['conditions.ambient_temperature'] = mapAmbient(j);
    queue.length = 0; fillControls(); $('tab-class').click(); ghost = null; compute();
  };
}

// ---- exercise: the fault is hidden in the address ----
const READINGS = [['suction_pressure', 'Low side'], ['discharge_pressure', 'High side'], ['vent_temperature', 'Vent'], ['suction_temperature', 'Suction pipe'], ['discharge_temperature', 'Discharge pipe'], ['liquid_line_temperature', 'Liquid line'], ['shell_temperature', 'Shell'], ['condenser_air_in_temperature', 'Air into the condenser'], ['condenser_air_out_temperature', 'Air behind it'], ['superheat', 'Superheat'], ['subcooling', 'Subcooling']];
function mulberry(a) { return () => { a = (a + 0x6D2B79F5) | 0; let t = Math.imul(a ^ (a >>> 15), 1 | a); t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t; return ((t ^ (t >>> 14)) >>> 0) / 4294967296; }; }
const TELLS = 3; // standard deviations
const sigmaOf = (ch) => quantity(ch).si.word === 'barg' ? (ch === 'discharge_pressure' ? 5e4 : 2e4) : 2;
const mostApart = (a, b, list) => list.map(([ch, name]) => [Math.abs(a.gauge(ch) - b.gauge(ch)) / sigmaOf(ch), name]).sort((p, q) => q[0] - p[0])[0];
function drawFault(draw) { // as often as it occurs
  let x = draw() * DATA.faults.reduce((s, f) => s + f.often, 0);
  return DATA.faults.find((f) => (x -= f.often) < 0) || DATA.faults[0];
}
function startExercise() {
  const found = /^#car=(\d+)$/.exec(location.hash), seed = found ? +found[1] : 1 + Math.floor(Math.random() * 99999), draw = mulberry(seed);
  if (!found) location.hash = `car=${seed}`;
  load(DATA.stories[0]);
  state.story = Object.assign({}, DATA.stories[0], { schedule: null, set: DATA.stories[0].set.filter(([k]) => !k.startsWith('fault.')) });
  for (const s of SLIDERS) if (s.key.startsWith('fault.')) state.value[s.key] = 0;
  for (const s of SWITCHES) state.on[s.fault] = false;
  state.value['conditions.doors_open'] = 1; state.value['conditions.ambient_temperature'] = 299 + 11 * draw();
  state.value['conditions.compressor_speed'] = 25;
  state.exercise = { seed, bought: new Set(), noise: READINGS.map(() => draw() - 0.5), run: null, over: false };
  $('car-number').textContent = seed;
  $('sentence').textContent = `Bay test, doors open, ${text('ambient_temperature', state.value['conditions.ambient_temperature'])} outside, ${text('compressor_speed', 25)} at the compressor.`;
  $('complaint').textContent = $('verdict').textContent = '';
  $('guess').innerHTML = DATA.faults.map((f) => `<option value="${f.id}">${f.id.replace(/_/g, ' ')}</option>`).sort().join('');
  queue.length = 0;
  ask(request(true), (sound) => { if (sound.finished) settle(state.exercise, draw, sound, 0); }, true);
  shop();
}
// A fault that shows in the readings and that the car survives, else the next one drawn.
function settle(e, draw, sound, tries) {
  const fault = drawFault(draw), severity = Math.min(0.35 + 0.5 * draw(), fault.most);
  ask(request(true, [[`fault.${fault.id}.severity`, severity]]), (run) => {
    if (!run.finished || state.exercise !== e) return;
    if (tries < 40 && (run.outcome !== SURVIVES && run.outcome !== PROTECTED || !(mostApart(run, sound, READINGS)[0] > TELLS))) { settle(e, draw, sound, tries + 1); return; }
    Object.assign(e, { run, fault: fault.id, severity });
    $('complaint').textContent = `Customer: “${fault.complaint}”`;
    shop();
  });
}
function shop() {
  const e = state.exercise;
  if (!e) return;
  $('score').textContent = `${10 - e.bought.size} points left`;
  $('shop').innerHTML = READINGS.map(([ch, name], k) => {
    const error = { bar: 6e3, psi: 6e3 }[unit(ch)] || 1, x = e.run ? e.run.gauge(ch) + 2 * e.noise[k] * error : NaN;
    return `<div class="tile"><span>${name}</span><b>${e.bought.has(ch) ? text(ch, x) : `<button data-buy="${ch}"${e.run && !e.over ? '' : ' disabled'}>Read it</button>`}</b></div>`;
  }).join('');
  document.querySelectorAll('[data-buy]').forEach((b) => { b.onclick = () => { e.bought.add(b.dataset.buy); shop(); }; });
}
function gradeGuess() { // right, reads alike in what was bought (half), or wrong; and which reading would have told
  const e = state.exercise, guess = $('guess').value, left = 10 - e.bought.size;
  if (!e.run || e.over) return;
  e.over = true;
  const truth = `It is ${e.fault.replace(/_/g, ' ')}: ${severityWords(e.fault, e.severity)}.`;
  if (guess === e.fault) { $('verdict').textContent = `Right: ${left} points. ${truth}`; shop(); return; }
  const tried = [];
  for (const s of [0.2, 0.4, 0.6, 0.8]) ask(request(true, [[`fault.${guess}.severity`, s]]), (run) => {
    if (!run.finished) return;
    tried.push(run);
    if (tried.length < 4) return;
    const bought = READINGS.filter(([ch]) => e.bought.has(ch)), nearest = tried.sort((a, b) => mostApart(a, e.run, READINGS)[0] - mostApart(b, e.run, READINGS)[0])[0];
    const alike = !bought.length || mostApart(nearest, e.run, bought)[0] < TELLS, told = mostApart(nearest, e.run, READINGS);
    $('verdict').textContent = `${alike ? `It reads alike in what you read: ${left / 2} points.` : 'Wrong: 0 points.'} ${truth} What would have told: ${told[0] > TELLS ? told[1].toLowerCase() : 'no reading of this list; look at the parts themselves'}.`;
  });
  shop();
}

// ---- the bench: label, spot sheet, ranking ----
const UNITS = { kg: [['g', 1000, 0], ['oz', 35.274, 0]], m3: [['cm³ a turn', 1e6, 0], ['cm³ a turn', 1e6, 0]], Pa: [['bar', 1e-5, 1.01325], ['psi', 1 / 6894.76, 14.696]], '': [['', 1, 0], ['', 1, 0]] };
const LABEL = [ // the ten questions of `vehicle`; several boxes may belong to one
  { ask: 0, choice: 'vehicle.refrigerant', options: ['R134a', 'R1234yf', 'R12'] }, { ask: 1, key: 'charge.nominal', unit: 'kg' },
  { ask: 2, choice: 'vehicle.expansion', options: ['valve with receiver', 'orifice tube with accumulator'] }, { ask: 3, oil: true }, { ask: 4, key: 'oil.total', unit: 'kg' },
  { ask: 5, key: 'compressor.displacement', unit: 'm3' }, { ask: 6, name: 'fans start at (0: always)', key: 'controls.fan_on', unit: 'Pa', zero: true }, { ask: 6, name: 'fans stop at', key: 'controls.fan_off', unit: 'Pa', zero: true },
  { ask: 7, evaporators: true }, { ask: 8, name: 'low switch opens', key: 'controls.low_open', unit: 'Pa' }, { ask: 8, name: 'low switch closes', key: 'controls.low_close', unit: 'Pa' },
  { ask: 8, name: 'high switch opens', key: 'controls.high_open', unit: 'Pa' }, { ask: 8, name: 'high switch closes', key: 'controls.high_close', unit: 'Pa' }, { ask: 9, key: 'controls.pulley_ratio', unit: '', blank: true }];
const SHEET = [['compressor_speed', 'Speed'], ['ambient_temperature', 'Outside'], ['suction_pressure', 'Low side'], ['discharge_pressure', 'High side'], ['vent_temperature', 'Vent'], ['suction_temperature', 'Suction pipe'],
  ['discharge_temperature', 'Discharge pipe'], ['liquid_line_temperature', 'Liquid line'], ['shell_temperature', 'Shell'], ['condenser_air_in_temperature', 'Air into condenser']];
const POINTS = [['idle', 17.5], ['1500 rpm', 25], ['2500 rpm', 41.667]], GAUGE_ROWS = 6, PARAMETERS = Object.keys(DATA.parameters);
const bench = { label: {}, fitted: null, starts: 0 };
const ofStory = (list, key) => { const at = list.find(([k]) => k === key); return at ? at[1] : undefined; };
function labelDefaults() { // what the first story's vehicle has [SI]
  const v = DATA.stories[0];
  LABEL.forEach((l, i) => {
    const set = ofStory(v.set, l.key);
    bench.label[i] = l.choice ? ofStory(v.choose, l.choice) || 0 : l.oil ? -1 : l.evaporators ? ((ofStory(v.set, 'rear_evaporator.size') || 0) > 0 ? 2 : 1) : l.blank ? NaN : set !== undefined ? set : DATA.parameters[l.key];
  });
}
const unitOf = (l) => UNITS[l.unit][trade ? 1 : 0];
const inUnit = (l, x) => { const [, per, gauge] = unitOf(l); return Number.isFinite(x) ? (l.zero && x <= 0 ? 0 : +(x * per - gauge).toFixed(per < 1e-2 ? 1 : 2)) : ''; };
function labelBox(l, i) {
  const question = DATA.words.questions[l.ask], name = l.name || question[0];
  const options = l.options || (l.oil ? ['as the vehicle file says'].concat(DATA.words.oils.map((o) => o[0])) : l.evaporators ? ['1', '2'] : null);
  const chosen = l.oil ? bench.label[i] + 1 : l.evaporators ? bench.label[i] - 1 : bench.label[i];
  const box = options ? `<select data-label="${i}">${options.map((o, k) => `<option value="${k}"${k === chosen ? ' selected' : ''}>${o}</option>`).join('')}</select>` : `<input data-label="${i}" inputmode="decimal" value="${inUnit(l, bench.label[i])}"> ${unitOf(l)[0]}`;
  return `<label class="tile" title="${question[2]}; ${question[3]}"><span>${LABEL.findIndex((m) => m.ask === l.ask) === i ? `${l.ask + 1}. ` : ''}${capital(name)}</span><br>${box}</label>`;
}
function buildLabel() {
  $('label').innerHTML = LABEL.map(labelBox).join('') + `<label class="tile"><span>Doors open at the test</span><br><input type="checkbox" id="doors"${bench.doors === false ? '' : ' checked'} style="width:auto"></label>`;
  $('label').oninput = readLabel;
}
function readLabel() {
  document.querySelectorAll('[data-label]').forEach((e) => {
    const i = +e.dataset.label, l = LABEL[i], x = parseFloat(e.value.replace(',', '.'));
    if (e.tagName === 'SELECT') bench.label[i] = l.oil ? +e.value - 1 : l.evaporators ? +e.value + 1 : +e.value;
    else if (String(inUnit(l, bench.label[i])) !== e.value) { const [, per, gauge] = unitOf(l); bench.label[i] = !Number.isFinite(x) ? NaN : l.zero && x <= 0 ? 0 : (x + gauge) / per; }
  });
  bench.doors = $('doors').checked;
  if (bench.fitted && bench.fitted.label !== JSON.stringify(bench.label)) { bench.fitted = null; $('fit-state').textContent = 'The label changed: fit it again.'; }
}
function buildBench() {
  if ($('label').childElementCount) return;
  labelDefaults(); buildLabel();
  buildTable('sheet', POINTS.map(([, speed]) => ({ compressor_speed: speed, ambient_temperature: 303.15 })), POINTS.map(([name]) => name));
  buildTable('gauges', Array.from({ length: GAUGE_ROWS }, () => ({})), Array.from({ length: GAUGE_ROWS }, (_, i) => `row ${i + 1}`));
}
const ratio = () => { const x = bench.label[LABEL.length - 1]; return x > 0 ? x : 1; }; // speeds are the engine's where a pulley ratio is given
function buildTable(id, rows, names) {
  $(id).tHead.innerHTML = `<tr><th scope="col">Point</th>${SHEET.map(([ch, name]) => `<th scope="col">${name}, ${unit(ch)}</th>`).join('')}</tr>`;
  $(id).tBodies[0].innerHTML = rows.map((row, i) => `<tr><th scope="row">${names[i]}</th>${SHEET.map(([ch, name]) => `<td><input data-row="${i}" data-ch="${ch}" inputmode="decimal" aria-label="${name} at ${names[i]}" value="${Number.isFinite(row[ch]) ? +shown(ch, row[ch]).toFixed(unit(ch) === 'bar' ? 2 : 1) : ''}"></td>`).join('')}</tr>`).join('');
}
function readTable(id) { // what is typed, in SI; blanks are left out
  const rows = Array.from($(id).tBodies[0].rows, () => ({}));
  document.querySelectorAll(`#${id} input`).forEach((e) => {
    const x = parseFloat(e.value.replace(',', '.')), q = quantity(e.dataset.ch)[trade ? 'trade' : 'si'];
    if (Number.isFinite(x)) rows[e.dataset.row][e.dataset.ch] = (x - q.offset) / q.scale;
  });
  return rows;
}
// rows that hold a reading, as the library takes them; a word if something is lacking
function sheetRows(id, least) {
  const read = readTable(id).filter((r) => SHEET.slice(2).some(([ch]) => Number.isFinite(r[ch])));
  if (read.length < least) return least > 1 ? 'Three rows at least, each with both pressures if the table has them.' : 'Type in the readings of one point at least.';
  if (read.some((r) => !Number.isFinite(r.compressor_speed) || !Number.isFinite(r.ambient_temperature))) return 'Speed and the air outside are needed at each point.';
  return read.map((r) => Object.assign({ held: 300, doors_open: $('doors').checked ? 1 : 0, vehicle_speed: 0 }, r, { compressor_speed: r.compressor_speed * ratio() }));
}
function labelVehicle() { // the vehicle of the first story with what the label says
  const story = DATA.stories[0], set = story.set.filter(([k]) => !k.startsWith('fault.')), choose = story.choose.filter(([k]) => !LABEL.some((l) => l.choice === k));
  const changed = {}; const was = Object.assign({}, bench.label); labelDefaults(); LABEL.forEach((l, i) => { changed[i] = !Object.is(was[i], bench.label[i]); }); bench.label = was;
  LABEL.forEach((l, i) => {
    const x = bench.label[i];
    if (l.choice) choose.push([l.choice, x]);
    else if (!changed[i] || !Number.isFinite(x)) return;
    else if (l.oil && x >= 0) { const [, v40, v100, density] = DATA.words.oils[x]; set.push(['oil.viscosity_40', v40], ['oil.viscosity_100', v100], ['oil.density', density]); }
    else if (l.evaporators) set.push(['rear_evaporator.size', x > 1 ? 0.7 : 0]);
    else if (l.key) set.push([l.key, x]);
  });
  if (changed[2]) choose.push(['controls.cycling', bench.label[2] === 1 ? 1 : 3]); // a tube's accumulator has its switch, a valve's coil a thermostat too
  set.push(['conditions.vehicle_speed', 0], ['conditions.doors_open', $('doors').checked ? 1 : 0]);
  return { set, choose, schedule: null };
}
function benchVehicle() { // with what a fit to the gauge table has found
  const v = labelVehicle();
  return bench.fitted ? Object.assign(v, { set: v.set.concat(bench.fitted.set) }) : v;
}
function fitGauges() {
  const rows = sheetRows('gauges', 3);
  $('fit-state').textContent = typeof rows === 'string' ? rows : 'Computing: it takes about a minute...';
  if (typeof rows === 'string') return;
  readLabel();
  queue.length = 0;
  ask({ fit: { vehicle: labelVehicle(), rows, parameters: PARAMETERS.length, starts: bench.starts } }, (m) => {
    bench.fitted = { label: JSON.stringify(bench.label), set: m.changed.map(([i, x]) => [PARAMETERS[i], x]) };
    $('fit-state').textContent = `Fitted to ${rows.length} rows in ${(m.took / 1000).toFixed(1)} s; what is left over is ${m.spread.toFixed(1)} times what was allowed for.${m.spread > 3 ? ' That is much: look at the table and the label again.' : ''}`;
  }, true);
}

// ---- the program's words ----
const ODD = ['both gauges read the same while the compressor runs', 'the gauges part at rest', 'the discharge pipe is colder than the suction pipe', 'the suction pipe is colder than the gas in it can be', 'the discharge pipe is colder than the gas in it can be', 'the liquid line is hotter than the liquid in it can be', 'the high side condenses below the temperature of the outside air', 'both sides stand below saturation at rest'];
const sure = (share) => share > 0.8 ? 'very likely' : share > 0.5 ? 'likely' : share > 0.1 ? 'possible' : 'unlikely';
const causeName = (c) => c.fault < 0 ? 'healthy' : [c.fault, c.second].filter((f) => f >= 0).map((f) => DATA.faults[f].id.replace(/_/g, ' ')).join(' + ');
const amount = (f, s) => `${(s * f.scale).toFixed(f.digits)}${f.unit ? ` ${f.unit}` : ''}`;
function severityWords(id, s) { const f = typeof id === 'number' ? DATA.faults[id] : DATA.faults.find((g) => g.id === id); return f.phrase.replace('%s', amount(f, s)); }
const rangeWords = (c) => { const f = DATA.faults[c.fault]; return `${severityWords(c.fault, c.severity)}, ${(c.low * f.scale).toFixed(f.digits)} to ${amount(f, c.high)}`; };
const per = (share) => `${(100 * share).toFixed(0)} %`;
const open = (m) => m.causes.filter((c) => 3 * c.share > m.causes[0].share);
function answerOf(m) {
  const [a, b] = m.causes;
  if (m.noneFits) return `No cause of the list explains this sheet: with the best of them ${DATA.channelHelp[m.farthestChannel]} still lies ${m.misfit.toFixed(1)} deviations off, further than any vehicle of this kind could. Check compressor speed, doors, ambient, units and gauges, and measure again before anything is replaced.`;
  if (m.cannotTell) return `This sheet cannot tell these apart: ${open(m).map((c) => `${causeName(c)} (share ${per(c.share)})`).join(', ')}.`;
  if (a.fault < 0) return `This sheet fits a healthy vehicle: ${sure(a.share)} (share ${per(a.share)}); next comes ${causeName(b)} (${per(b.share)}).`;
  if (a.second >= 0) return `Two faults together, ${sure(a.share)}: ${causeName(a)} (share ${per(a.share)}).`;
  return `${causeName(a)}, ${sure(a.share)}: ${rangeWords(a)} (share ${per(a.share)}).`;
}
function lookOf(m) {
  const single = open(m).filter((c) => c.second < 0).map((c) => c.fault), found = m.cannotTell && DATA.words.looks.find(([a, b]) => single.includes(a) && single.includes(b));
  return found ? ` A look tells: ${found[2]}.` : '';
}
function rankSheet() {
  const rows = sheetRows('sheet', 1);
  $('rank-state').textContent = typeof rows === 'string' ? rows : 'Computing...';
  if (typeof rows === 'string') return;
  readLabel();
  const vehicle = benchVehicle();
  queue.length = 0;
  ask({ bench: { vehicle, rows } }, (m) => told(m, rows, vehicle), true);
}
function told(m, rows, vehicle) {
  const [a] = m.causes, odd = ODD.filter((_, k) => m.odd >> k & 1), known = DATA.words.knowledge[m.knowledge].replace('%.0f', String(ofStory(vehicle.set.slice().reverse(), 'fitted.rows') || 0));
  $('rank-state').textContent = `${(m.took / 1000).toFixed(1)} s`;
  $('trust').textContent = known ? `${known}.` : '';
  $('answer').textContent = (odd.length ? `Look at the readings first: ${odd.join('; ')}. What follows is built on them. ` : '') + answerOf(m) + lookOf(m);
  $('repair').textContent = a.fault >= 0 && !m.cannotTell && !m.noneFits && !odd.length ? `Repair: ${DATA.faults[a.fault].repair}. The vehicle maker's manual and local rules decide.` : '';
  $('causes').classList.remove('hidden');
  $('causes').tBodies[0].innerHTML = m.causes.filter((c, i) => i < 5 || c.share > 0.02).map((c) => `<tr><th scope="row">${causeName(c)}</th><td>${sure(c.share)}</td><td>${(100 * c.share).toFixed(0)}</td><td>${c.fault < 0 ? 'nothing to repair' : c.second >= 0 ? `${severityWords(c.fault, c.severity)}; ${severityWords(c.second, c.secondSeverity)}` : rangeWords(c)}</td></tr>`).join('');
  expectAll(rows, vehicle, m.causes.filter((c) => c.fault >= 0 && c.second < 0).slice(0, 3));
}
function expectAll(rows, vehicle, causes) { // at every test point, a part of the table each, as they come
  const names = ['healthy'].concat(causes.map(causeName)), parts = rows.map(() => null);
  $('expected').classList.remove('hidden');
  $('expected').tHead.innerHTML = `<tr><th scope="col">Reading</th><th scope="col">read</th>${names.map((n) => `<th scope="col">${n}</th>`).join('')}</tr>`;
  rows.forEach((row, i) => {
    const here = Object.assign({}, vehicle, { set: vehicle.set.concat([['conditions.ambient_temperature', row.ambient_temperature]]) });
    ask({ expect: { vehicle: here, speed: row.compressor_speed, causes } }, (m) => {
      parts[i] = `<tr><th scope="rowgroup" colspan="${names.length + 2}">${text('compressor_speed', row.compressor_speed)}, ${text('ambient_temperature', row.ambient_temperature)} outside</th></tr>` + SHEET.slice(2).map(([ch, name]) => `<tr><th scope="row">${name}</th><td>${text(ch, row[ch])}</td>${names.map((_, k) => `<td>${m.expected ? text(ch, m.expected[k * N + CH[ch]]) : '–'}</td>`).join('')}</tr>`).join('');
      $('expected').tBodies[0].innerHTML = parts.map((p) => p || '').join('');
    });
  });
}

// ---- begin ----
document.addEventListener('DOMContentLoaded', () => {
  load(state.story); buildControls(); fillControls(); wire(); wireMap();
  $('say').onclick = gradeGuess;
  $('next-car').onclick = () => { history.replaceState(null, '', '#'); location.hash = ''; startExercise(); };
  redraw();
  start();
  fillControls();
  if (/^#car=\d+$/.test(location.hash) && worker) $('tab-exercise').click();
});
