// drive_browser.mjs URL WIDTH HEIGHT SCREENSHOT STEP...: opens a page in headless Chromium by its debugging protocol, runs each STEP (an
// expression, may be a promise) in it, prints {value, console, requests} as JSON. Run by node --experimental-websocket.
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const [url, width, height, picture, ...steps] = process.argv.slice(2);
const profile = mkdtempSync(join(tmpdir(), 'swh_browser_'));
const browser = spawn(process.env.CHROMIUM || 'chromium', ['--headless', '--no-sandbox', '--disable-gpu', '--remote-debugging-port=0', `--user-data-dir=${profile}`, `--window-size=${width},${height}`, 'about:blank'], { stdio: ['ignore', 'ignore', 'pipe'] });
const ws = await new Promise((done, fail) => {
  let said = '';
  browser.stderr.on('data', (d) => { said += d; const m = /ws:\/\/\S+/.exec(said); if (m) done(m[0]); });
  browser.on('exit', () => fail(new Error(said)));
  setTimeout(() => fail(new Error('no browser: ' + said)), 60000);
});
const socket = new WebSocket(ws), waiting = new Map(), out = { value: [], console: [], requests: [] };
let next = 1, session;
await new Promise((done) => { socket.onopen = done; });
const call = (method, params = {}) => new Promise((done) => { const id = next++; waiting.set(id, done); socket.send(JSON.stringify({ id, method, params, sessionId: session })); });
socket.onmessage = (e) => {
  const m = JSON.parse(e.data);
  if (m.id) { waiting.get(m.id)(m.result || { error: m.error }); return; }
  if (m.method === 'Runtime.consoleAPICalled' || m.method === 'Runtime.exceptionThrown' || m.method === 'Log.entryAdded') out.console.push(JSON.stringify(m.params).slice(0, 600));
  if (m.method === 'Network.requestWillBeSent') out.requests.push(m.params.request.url.slice(0, 120));
};
const { targetInfos } = await call('Target.getTargets');
({ sessionId: session } = await call('Target.attachToTarget', { targetId: targetInfos.find((t) => t.type === 'page').targetId, flatten: true }));
for (const domain of ['Runtime', 'Log', 'Network', 'Page']) await call(domain + '.enable');
await call('Emulation.setDeviceMetricsOverride', { width: +width, height: +height, deviceScaleFactor: 1, mobile: false });
await call('Page.navigate', { url });
await new Promise((done) => setTimeout(done, 300));
for (const step of steps) {
  const { result, exceptionDetails } = await call('Runtime.evaluate', { expression: step, awaitPromise: true, returnByValue: true });
  out.value.push(exceptionDetails ? 'EXCEPTION ' + JSON.stringify(exceptionDetails).slice(0, 400) : result && result.value);
}
if (picture !== '-') writeFileSync(picture, Buffer.from((await call('Page.captureScreenshot', { format: 'png' })).data, 'base64'));
console.log(JSON.stringify(out));
browser.kill();
await new Promise((done) => browser.on('exit', done));
for (let left = 50; ; left--) { // its children write for a moment after it has gone
  try {
    rmSync(profile, { recursive: true, force: true });
    break;
  } catch (error) {
    if (left === 0) throw error;
    await new Promise((done) => setTimeout(done, 100));
  }
}
process.exit(0);
