// lesson_runs.mjs PAGE.html CASES.json: runs each case ([[key, value], ...] on top of the page's first story) with the page's own worker, in node,
// and prints [{outcome, seizure, duty, final: {channel: value}}, ...].
import { readFileSync } from 'node:fs';
import vm from 'node:vm';

const page = readFileSync(process.argv[2], 'utf8'), cases = JSON.parse(readFileSync(process.argv[3], 'utf8'));
const data = JSON.parse(/<script type="application\/json" id="data">([\s\S]*?)<\/script>/.exec(page)[1]);
const wasm = /const WASM = '([^']*)'/.exec(page)[1], worker = /<script type="text\/plain" id="worker">([\s\S]*?)<\/script>/.exec(page)[1];
if (!wasm) { console.log('null'); process.exit(0); }
const heard = [], inside = { postMessage: (m) => heard.push(m), WebAssembly, TextEncoder, TextDecoder, Date, Uint8Array, Float64Array, Object, Error, NaN };
inside.globalThis = inside;
vm.createContext(inside);
vm.runInContext(worker, inside);
inside.onmessage({ data: { wasm: Buffer.from(wasm, 'base64'), refrigerant: 0 } });
const story = data.stories[0], out = [];
for (const c of cases) {
  heard.length = 0;
  inside.onmessage({ data: { id: 1, set: story.set.concat(c), choose: story.choose, schedule: story.schedule } });
  const m = heard[heard.length - 1], n = data.channels.length, final = {};
  if (m.failed) { out.push(m); continue; }
  data.channels.forEach((ch, i) => { final[ch.id] = m.values[(m.rows - 1) * n + i]; });
  out.push({ status: m.status, outcome: m.outcome, seizure: Number.isFinite(m.seizure) ? m.seizure : null, duty: m.duty, final, events: m.events.length / 2, took: m.took });
}
console.log(JSON.stringify(out));
