// Runs cases with the library, one after the other, away from the page. Messages in: {wasm} once, then {id, set, choose, schedule};
// out: {ready}, {id, rows, ...} while a run goes on and at its end.
'use strict';
let library = null, now = null;

function instance(bytes) {
  const module = new WebAssembly.Module(bytes), imports = {};
  for (const i of WebAssembly.Module.imports(module)) {
    imports[i.module] = imports[i.module] || {};
    imports[i.module][i.name] = () => 0; // nothing is written, read or ended from inside a page
  }
  imports.env.swh_page_rows = () => tell(false);
  const exports = new WebAssembly.Instance(module, imports).exports;
  if (exports._initialize) exports._initialize();
  return exports;
}

function say(text) { // into the library's text buffer
  const at = library.swh_web_text(), bytes = new TextEncoder().encode(text).slice(0, library.swh_web_text_size() - 1);
  const memory = new Uint8Array(library.memory.buffer);
  memory.set(bytes, at);
  memory[at + bytes.length] = 0;
}

function heard() {
  const memory = new Uint8Array(library.memory.buffer);
  let from = library.swh_web_text(), to = from;
  while (memory[to]) to++;
  return new TextDecoder().decode(memory.slice(from, to));
}

function doubles(at, n) {
  return new Float64Array(library.memory.buffer, at, n).slice();
}

function results() {
  const rows = library.swh_web_rows(), events = library.swh_web_events();
  return {
    rows, values: doubles(library.swh_web_row_values(), rows * library.swh_web_channels()),
    cycleSize: library.swh_web_cycle_size(), cycles: doubles(library.swh_web_cycles(), rows * library.swh_web_cycle_size()),
    events: doubles(library.swh_web_event_values(), 2 * events),
  };
}

function tell(finished) {
  const clock = Date.now();
  if (!now || (!finished && clock - now.told < 100)) return;
  now.told = clock;
  postMessage(Object.assign(results(), { id: now.id, finished }));
}

function setUp(c) {
  library.swh_web_new();
  for (const [key, value] of c.set) { say(key); if (library.swh_web_set(value === null ? NaN : value)) throw new Error('unknown key ' + key); }
  for (const [key, option] of c.choose) { say(key); if (library.swh_web_choose(option)) throw new Error('unknown choice ' + key); }
  if (!c.schedule) return;
  library.swh_web_schedule(c.schedule.time.length);
  for (const [name, values] of Object.entries(c.schedule)) {
    say(name);
    const at = library.swh_web_column();
    if (!at) throw new Error('no column ' + name);
    new Float64Array(library.memory.buffer, at, values.length).set(values);
  }
}

function run(c) {
  const begun = Date.now();
  now = { id: c.id, told: begun };
  setUp(c);
  const status = library.swh_web_run(), wrong = heard();
  postMessage(Object.assign(results(), {
    id: c.id, finished: true, status, wrong, outcome: library.swh_web_outcome(), seizure: library.swh_web_time_to_seizure(),
    duty: library.swh_web_duty(), protectedBy: library.swh_web_protected_by(), end: library.swh_web_end(), took: Date.now() - begun,
  }));
  now = null;
}

function dome(refrigerant) {
  const n = 60, at = library.swh_web_doubles(3 * n);
  return doubles(at, 3 * library.swh_web_dome(refrigerant, n, at));
}

// A spot sheet or gauge table, a row of readings by name [SI] each.
function sheet(rows) {
  library.swh_web_sheet(rows.length);
  rows.forEach((row, i) => Object.entries(row).forEach(([name, value]) => { say(name); if (library.swh_web_sheet_put(i, value)) throw new Error('unknown reading ' + name); }));
}
// {bench: {vehicle, rows}}: the ranking of a spot sheet.
function rank(b) {
  setUp(b.vehicle);
  sheet(b.rows);
  const odd = library.swh_web_implausible(), n = library.swh_web_rank();
  if (n < 0) throw new Error(heard());
  const numbers = doubles(library.swh_web_causes(), 8 * n), causes = [];
  for (let i = 0; i < n; i++) { const [fault, second, share, severity, low, high, secondSeverity] = numbers.slice(8 * i, 8 * i + 7); causes.push({ fault, second, share, severity, low, high, secondSeverity }); }
  return { causes, odd, noneFits: library.swh_web_none_fits() > 0, misfit: library.swh_web_misfit(), farthestChannel: library.swh_web_farthest_channel(), cannotTell: library.swh_web_cannot_tell() > 0, knowledge: library.swh_web_knowledge() };
}
// {expect: {vehicle, speed, causes}}: what a healthy vehicle and these causes would read at a point.
function expect(b) {
  setUp(b.vehicle);
  library.swh_web_expect_cause(-2, 0);
  library.swh_web_expect_cause(-1, 0);
  b.causes.forEach((c) => library.swh_web_expect_cause(c.fault, c.severity));
  const at = library.swh_web_expect(b.speed);
  return { expected: at ? doubles(at, library.swh_web_channels() * (b.causes.length + 1)) : null };
}
// {fit: {vehicle, rows}}: the parameters that a fit to a gauge table changed, by their number.
function fit(b) {
  setUp(b.vehicle);
  const count = b.parameters, before = doubles(library.swh_web_params(), count);
  sheet(b.rows);
  if (library.swh_web_fit(b.starts || 0) < 0) throw new Error(heard());
  const after = doubles(library.swh_web_params(), count), changed = [];
  for (let i = 0; i < count; i++) if (!Object.is(before[i], after[i])) changed.push([i, after[i]]);
  return { changed, spread: library.swh_web_fit_spread() };
}
// {heat: {case, from, to}}: gain and loss of heat with the rotor held at two temperatures.
function heat(b) {
  setUp(b.case);
  const at = library.swh_web_heat(b.from, b.to);
  return { heat: at ? doubles(at, 4) : null };
}
const TASKS = { bench: rank, expect, fit, heat };

onmessage = (e) => {
  try {
    const task = Object.keys(TASKS).find((k) => e.data[k]);
    if (e.data.wasm) {
      library = instance(e.data.wasm);
      postMessage({ ready: true, dome: dome(e.data.refrigerant || 0) });
    } else if (task) {
      const begun = Date.now();
      postMessage(Object.assign(TASKS[task](e.data[task]), { id: e.data.id, finished: true, task, took: Date.now() - begun }));
    } else run(e.data);
  } catch (wrong) {
    postMessage({ id: e.data.id, wrong: String(wrong), failed: true });
  }
};
