// How fast the page is: first paint and list with 3,000 pulls in the book, overlays of 20 and 40, a move of the pointer, a row on a line to the screen, a curve
// predicted after a turn, the page that hands over, 50 viewers at 20 Hz, its weight, the heap over an hour of live figures played fast, and heap and elements
// over minutes of a real source. page_bench.mjs PROGRAM [--quick] [--book FILE] [--only NAME,...] [--seconds N]. One line of JSON each.
// FILE: a book that was filled before. N: of the growth, 600 at first.
// Times by the clock depend on what else the machine does: the page's and the server's time on the processor stand beside them.
import { execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { get } from 'node:http';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
const require = createRequire(new URL('../../browser/package.json', import.meta.url));
const { chromium } = require('playwright-core');

const after = (name) => process.argv.includes(name) ? process.argv[process.argv.indexOf(name) + 1] : null;
const program = process.argv[2], quick = process.argv.includes('--quick'), only = after('--only')?.split(',') ?? null;
const folder = mkdtempSync(join(tmpdir(), 'enginewright-bench-'));
process.env.XDG_CONFIG_HOME = join(folder, 'config'); // this machine's files, of this run only
let book = after('--book') ?? join(folder, 'many.book');
const run = (...words) => execFileSync(program, [...words, '--book', book], { encoding: 'utf8' });
const tell = (row) => console.log(JSON.stringify(row));
const share = (list, part) => [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.floor(part * list.length))];
const median = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];

// ten sweeps a file, so that 1,000 pulls are a hundred imports of the usual kind
function recording(seed) {
  const lines = ['Time [s],Engine Speed [rpm],Torque [N·m],Throttle [%],Oil Pressure [bar],Lambda'];
  let random = seed * 7919 + 1, row = 0;
  const noise = () => { random = (random * 1103515245 + 12345) % 2147483648; return random / 1073741824 - 1; };
  for (let sweep = 0; sweep < 10; sweep++)
    for (const [seconds, rate, throttle] of [[2, 0, 20], [8, 500, 100], [2, -2000, 5]]) {
      const from = rate < 0 ? 6500 : 2500;
      for (let i = 0; i < seconds * 50; i++, row++) {
        const speed = from + rate * i / 50, full = 190 * (1 - ((speed - 4600) / 6500) ** 2);
        lines.push(`${row / 50},${(speed + 2 * noise()).toFixed(2)},${((throttle > 50 ? full - 0.105 * rate * Math.PI / 30 : full * throttle / 100) + 0.8 * noise()).toFixed(3)},${throttle},${(4.5 + 0.05 * noise()).toFixed(3)},${(0.88 + 0.003 * noise()).toFixed(4)}`);
      }
    }
  return lines.join('\n') + '\n';
}

function fill(pulls, engine = null) {
  const cell = join(folder, 'cell.yaml');
  writeFileSync(cell, 'name: cell 1\nrotor_inertia: 0.085 kg·m2\ncoupling_inertia: 0.02 kg·m2\n');
  run('book', 'new', '--shop', 'Bench', '--cell-file', cell);
  if (engine) run('engine', 'add', engine);
  for (let k = 0; k < pulls / 10; k++) {
    const file = join(folder, `run-${k}.csv`);
    writeFileSync(file, recording(k));
    run('pull', 'add', file, '--set', `spark=${24 + k % 5} deg`, '--set', 'pressure=990 hPa', '--set', 'temperature=22 degC', '--set', 'humidity=50 %');
    rmSync(file);
  }
  return JSON.parse(run('pull', 'list', '--json')).pulls.length;
}

async function serve() {
  const child = spawn(program, ['serve', '--book', book, '--port', '0', '--json'], { stdio: ['ignore', 'pipe', 'ignore'] });
  const said = JSON.parse(await new Promise((done) => { let text = ''; child.stdout.on('data', (d) => { text += d; if (text.includes('\n')) done(text); }); }));
  const answer = await fetch(`${said.address}api/v1/open`, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ key: said.link.split('key=')[1] }) });
  const cookie = answer.headers.get('set-cookie').split(';')[0], [name, value] = cookie.split('=');
  return { ...said, child, cookie, letIn: async (context) => { await context.addCookies([{ name, value, url: said.address }]); return context; } };
}

// when the first row of the list stood there to be read, when it could be pressed, and when the first plot stood there, by the page's own clock
const watcher = () => {
  window.seen = {};
  new MutationObserver(() => {
    const note = (name, selector) => { if (!window.seen[name] && document.querySelector(selector)) requestAnimationFrame(() => { window.seen[name] ??= performance.now(); }); };
    note('list', 'table.list tbody tr + tr');
    note('live', 'table.list button.side:enabled');
    note('plot', '.plot-box canvas');
  }).observe(document, { childList: true, subtree: true });
};

// what a page's own thread has done since: ms of the processor
async function processorOf(page, fresh = false) { /* fresh: the page is about to be loaded, by a process of its own */
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Performance.enable', { timeDomain: 'threadTicks' });
  const now = async () => 1000 * (await cdp.send('Performance.getMetrics')).metrics.find((x) => x.name === 'TaskDuration').value;
  const began = fresh ? 0 : await now();
  return async () => await now() - began;
}

// what a browser takes for a page with one line on it, from the same server: its own share of all below
async function firstPaint(browser, server, pulls) {
  const paint = [], list = [], live = [], plot = [], work = [], serving = [], plain = [];
  for (let k = 0; k < 7; k++) {
    const bare = await server.letIn(await browser.newContext({ serviceWorkers: 'block' })), line = await bare.newPage();
    await line.goto(`${server.address}api/v1/words`);
    plain.push(await line.evaluate(() => new Promise((done) => { const look = () => { const p = performance.getEntriesByName('first-contentful-paint')[0]; if (p) done(p.startTime); else requestAnimationFrame(look); }; look(); })));
    await bare.close();
    const context = await server.letIn(await browser.newContext({ viewport: { width: 1440, height: 900 }, serviceWorkers: 'block' }));
    const page = await context.newPage(), spent = await processorOf(page, true), served = ticks(server.child.pid);
    await page.addInitScript(watcher);
    await page.goto(`${server.address}#/pulls?a=${pulls}`);
    await page.waitForFunction(() => window.seen.list && window.seen.live && window.seen.plot && performance.getEntriesByName('first-contentful-paint').length > 0, null, { timeout: 60000 });
    const [first, seen] = await page.evaluate(() => [performance.getEntriesByName('first-contentful-paint')[0].startTime, window.seen]);
    paint.push(first); list.push(seen.list); live.push(seen.live); plot.push(seen.plot); work.push(await spent()); serving.push(1000 * (ticks(server.child.pid) - served));
    await context.close();
  }
  tell({ bench: 'first paint', pulls, paint_ms: Math.min(...paint), paint_median_ms: median(paint), list_ms: Math.min(...list), list_median_ms: median(list), list_pressed_median_ms: median(live), plot_ms: Math.min(...plot), page_cpu_ms: median(work), server_cpu_ms: median(serving), plain_paint_ms: median(plain), limit_ms: 150, list_limit_ms: 200, pass: median(paint) < 150 && median(list) < 200 });
}

async function overlay(browser, server, pulls, lines, limit_ms) {
  const page = await (await server.letIn(await browser.newContext({ viewport: { width: 1440, height: 900 }, serviceWorkers: 'block' }))).newPage();
  await page.goto(`${server.address}#/pulls?a=1`);
  await page.locator('.plot-box canvas').first().waitFor();
  const ids = (from) => Array.from({ length: lines }, (_v, i) => from + i).join(',');
  const times = [], answers = [], work = [], cdp = await page.context().newCDPSession(page);
  await cdp.send('Performance.enable', { timeDomain: 'threadTicks' });
  const cpu = async () => { const m = (await cdp.send('Performance.getMetrics')).metrics; return 1000 * m.find((x) => x.name === 'TaskDuration').value; };
  for (let k = 0; k < 7; k++) {
    const from = 1 + 40 * k % Math.max(pulls - lines, 1);
    const spent = await cpu();
    const [took, answer] = await page.evaluate(async (list) => {
      const start = performance.now();
      performance.clearResourceTimings();
      location.hash = `#/pulls?a=${list}`;
      const wanted = list.split(',').map((id) => 'A ' + id).join();
      await new Promise((done) => { // the plot of these pulls, and not one drawn anew of those before
        const look = () => { requestAnimationFrame(document.querySelector('.plot-box')?.dataset.lines === wanted ? done : look); };
        look();
      });
      const asked = performance.getEntriesByType('resource').find((e) => e.name.includes('curves?pulls='));
      return [performance.now() - start, asked ? asked.responseEnd - asked.startTime : NaN];
    }, ids(from));
    work.push(await cpu() - spent); times.push(took); answers.push(answer);
    await page.waitForTimeout(300);
  }
  tell({ bench: `overlay ${lines}`, pulls: lines, drawn_ms: Math.min(...times), drawn_median_ms: median(times), server_ms: Math.min(...answers), server_median_ms: median(answers), page_cpu_ms: median(work), limit_ms, pass: median(times) < limit_ms });
  await page.context().close();
}

// what one move of the pointer costs: from the event to the words that tell it, over eight lines with their bands
async function hover(browser, server) {
  const page = await (await server.letIn(await browser.newContext({ viewport: { width: 1440, height: 900 }, serviceWorkers: 'block' }))).newPage();
  await page.goto(`${server.address}#/pulls?a=1,2,3,4&b=5,6,7,8`);
  await page.locator('.work .plot-box canvas').first().waitFor();
  await page.waitForTimeout(1500);
  const times = await page.evaluate(() => {
    const over = document.querySelector('.work .u-over'), box = over.getBoundingClientRect(), told = document.querySelector('.work .readout'), all = [];
    for (let k = 0; k < 200; k++) {
      const before = told.textContent, start = performance.now();
      over.dispatchEvent(new MouseEvent('mousemove', { clientX: box.left + box.width * (0.05 + 0.9 * (k * 37 % 200) / 200), clientY: box.top + box.height / 2, bubbles: true }));
      all.push([performance.now() - start, told.textContent !== before]);
    }
    return all;
  });
  const sorted = times.map(([ms]) => ms).sort((a, b) => a - b), p95 = sorted[Math.floor(0.95 * sorted.length)], moved = times.filter(([, is]) => is).length;
  tell({ bench: 'hover', lines: 8, median_ms: median(sorted), p95_ms: p95, told: moved, limit_ms: 8, pass: p95 < 8 && moved > 100 });
  await page.context().close();
}

// a row on a line until it stands on the screen, in a pull whose curve is drawn: each row says in its torque which it is. Of the rows that are shown;
// a page shows twenty a second at most, whatever the source sends.
async function toScreen(browser, server) {
  const sent = new Map(), sockets = new Set();
  let k = 0;
  const tcp = createServer((socket) => { socket.on('error', () => {}); socket.on('close', () => sockets.delete(socket)); socket.write('Time [s],Speed [rpm],Torque [N.m],Throttle [%]\n'); sockets.add(socket); });
  await new Promise((done) => tcp.listen(0, '127.0.0.1', done));
  const began = performance.now(), timer = setInterval(() => {
    if (sockets.size === 0) return;
    const torque = 100 + k++ % 800;
    const at = performance.timeOrigin + performance.now(), text = String(torque);
    sent.has(text) ? sent.get(text).push(at) : sent.set(text, [at]);
    sockets.forEach((s) => s.write(`${((performance.now() - began) / 1000).toFixed(3)},${2500 + k % 4000},${torque},100\n`));
  }, 10);
  const page = await (await server.letIn(await browser.newContext({ viewport: { width: 1280, height: 720 }, serviceWorkers: 'block' }))).newPage();
  const post = (path, body) => page.evaluate(([path, body]) => fetch('/api/v1/' + path, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) }).then((r) => r.status), [path, body]);
  await page.goto(`${server.address}#/live`);
  await post('live/start', { sources: [`tcp://127.0.0.1:${tcp.address().port}`] });
  await page.waitForFunction(() => /^\d+$/.test(document.querySelectorAll('.hero-value')[1]?.textContent ?? ''), null, { timeout: 30000 });
  await post('live/control', { line: 'begin' });
  const spent = await processorOf(page), seconds = quick ? 6 : 30;
  const [seen, drawn] = await page.evaluate((ms) => new Promise((done) => {
    const torque = document.querySelectorAll('.hero-value')[1], curve = document.querySelector('.live-curve canvas'), seen = [], first = Number(curve?.dataset.samples ?? 0), until = performance.now() + ms;
    let last = torque.textContent;
    const look = () => { /* in the frame after the one in which it was written, so that it has been painted */
      if (torque.textContent !== last) { last = torque.textContent; seen.push([last, performance.timeOrigin + performance.now()]); }
      if (performance.now() < until) requestAnimationFrame(look); else done([seen, Number(curve?.dataset.samples ?? 0) - first]);
    };
    requestAnimationFrame(look);
  }), 1000 * seconds);
  // a torque comes again after eight seconds: its age is counted from the last time that it had been sent when it was seen
  const ages = seen.map(([text, at]) => at - Math.max(...(sent.get(text) ?? []).filter((time) => time <= at))).filter(Number.isFinite);
  tell({ bench: 'row to screen', rows: ages.length, drawn, median_ms: median(ages), p95_ms: share(ages, 0.95), most_ms: Math.max(...ages), page_core: await spent() / (1000 * seconds), limit_ms: 60, pass: share(ages, 0.95) < 60 && ages.length > 5 * seconds && drawn > 5 * seconds });
  await post('live/stop', {});
  clearInterval(timer); sockets.forEach((s) => s.destroy()); tcp.close();
  await page.context().close();
}

// a field turned by a key until its coarse curve stands there
async function predicts(browser, server) {
  const page = await (await server.letIn(await browser.newContext({ viewport: { width: 1440, height: 900 }, serviceWorkers: 'block' }))).newPage();
  await page.goto(`${server.address}#/predict`);
  await page.locator('.predict-stage').waitFor({ timeout: 180000 });
  await page.locator('#turn-breathing-primary_length').focus();
  const turns = async (rest_ms) => {
    const times = [], served = [];
    for (let k = 0; k < (quick ? 4 : 8); k++) {
      const before = ticks(server.child.pid);
      await page.evaluate(() => { /* a curve of its own is another canvas */
        window.turned = null;
        const plot = () => document.querySelector('.curve-card .plot-box canvas'), old = plot(), from = performance.now();
        const look = () => { if (plot() && plot() !== old && document.querySelector('.stage-coarse')) window.turned = performance.now() - from; else requestAnimationFrame(look); };
        document.activeElement.addEventListener('input', () => { requestAnimationFrame(look); }, { once: true });
      });
      await page.keyboard.press('ArrowLeft');
      await page.waitForFunction(() => window.turned != null, null, { timeout: 30000 });
      times.push(await page.evaluate(() => window.turned));
      served.push(1000 * (ticks(server.child.pid) - before));
      await page.waitForTimeout(rest_ms);
    }
    return { times, served };
  };
  await turns(100); /* the base comes beside it with the first */
  const moving = await turns(100), rested = await turns(1000); /* rested: a fine run is under way, and gives way */
  tell({ bench: 'predict', turns: rested.times.length, moving_median_ms: median(moving.times), moving_cpu_ms: median(moving.served), least_ms: Math.min(...rested.times), median_ms: median(rested.times), most_ms: Math.max(...rested.times), limit_ms: 150, pass: median(rested.times) < 150 && median(moving.times) < 150 });
  await page.context().close();
}

// the page that hands over, from its address to the first sheet in sight
async function handOver(browser, server, pulls) {
  const times = [];
  for (let k = 0; k < 3; k++) {
    const page = await (await server.letIn(await browser.newContext({ viewport: { width: 1440, height: 900 }, serviceWorkers: 'block' }))).newPage();
    const began = performance.now();
    await page.goto(`${server.address}#/handover`);
    await page.waitForFunction(() => [...document.querySelectorAll('main img')].some((i) => i.complete && i.naturalWidth > 0), null, { timeout: 60000 });
    times.push(performance.now() - began);
    await page.context().close();
  }
  tell({ bench: 'hand over', pulls, first_ms: times[0], median_ms: median(times), limit_ms: 1000, pass: times[0] < 1000 });
}

// the line through readings by least squares: its slope and the standard error of that, an hour
function trend(readings, of) {
  const n = readings.length, mean = (f) => readings.reduce((sum, r) => sum + f(r), 0) / n, hours = mean((r) => r.hours), middle = mean(of);
  const spread = readings.reduce((sum, r) => sum + (r.hours - hours) ** 2, 0), slope = readings.reduce((sum, r) => sum + (r.hours - hours) * (of(r) - middle), 0) / spread;
  const rest = readings.reduce((sum, r) => sum + (of(r) - middle - slope * (r.hours - hours)) ** 2, 0);
  return { slope, se: Math.sqrt(rest / (n - 2) / spread) };
}
// minutes of a real source at a hundred a second: heap and elements, garbage collected before each reading. The first minute, in which a browser makes its
// code faster, is left out. It fails where growth is more than the limit and more than chance (two standard errors).
async function growth(browser, server) {
  const context = await server.letIn(await browser.newContext({ viewport: { width: 1440, height: 900 }, serviceWorkers: 'block' })), page = await context.newPage(), cdp = await context.newCDPSession(page);
  const seconds = Number(after('--seconds') ?? (quick ? 90 : 600)), every = Math.max(seconds / 40, 3), settle = Math.min(60, seconds / 3), readings = [], began = performance.now();
  await page.goto(`${server.address}#/live`);
  const begun = await page.evaluate((wait) => fetch('/api/v1/live/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ sources: [`practice:?rate=100&run=oil 90;coolant 80;wait 1;speed 4000;wait ${wait}`] }) }).then((r) => r.ok ? null : r.text()), Math.ceil(seconds + 120));
  if (begun != null) throw new Error(`growth: the session did not begin: ${begun}`);
  await page.waitForFunction(() => /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''), null, { timeout: 30000 });
  for (let at = settle; at <= seconds; at += every) {
    await page.waitForTimeout(Math.max(0, began + 1000 * at - performance.now()));
    await cdp.send('HeapProfiler.collectGarbage');
    const dom = await cdp.send('Memory.getDOMCounters');
    readings.push({ hours: (performance.now() - began) / 3.6e6, mb: (await cdp.send('Runtime.getHeapUsage')).usedSize / 1e6, nodes: dom.nodes, listeners: dom.jsEventListeners });
    const r = readings.at(-1); // a run that is cut short leaves what it saw
    console.error(`growth: after ${(60 * r.hours).toFixed(1)} min ${r.mb.toFixed(2)} MB, ${r.nodes} elements, ${r.listeners} listeners, server ${rssOf(server.child.pid)} kB`);
  }
  const alive = await page.evaluate(() => /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''));
  await page.evaluate(() => fetch('/api/v1/live/stop', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' }));
  const mb = trend(readings, (r) => r.mb), nodes = trend(readings, (r) => r.nodes), held = ({ slope, se }, limit) => slope < limit || slope < 2 * se;
  tell({ bench: 'growth', seconds, readings: readings.length, first: readings[0], last: readings.at(-1), mb_an_hour: mb.slope, mb_se: mb.se, nodes_an_hour: nodes.slope, nodes_se: nodes.se, limit_mb: 1, limit_nodes: 100, pass: alive && held(mb, 1) && held(nodes, 100) });
  await context.close();
}

const rssOf = (pid) => Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]);
const ticks = (pid) => readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1].split(' ').slice(11, 13).reduce((a, b) => a + Number(b), 0) / 100;

async function viewers(server) {
  const post = (path, body) => fetch(`${server.address}api/v1/${path}`, { method: 'POST', headers: { 'Content-Type': 'application/json', Cookie: server.cookie }, body: JSON.stringify(body) });
  await post('live/start', { source: 'practice:?rate=100&run=oil 90;coolant 80;wait 1;speed 4000;wait 600', changed: '' });
  const counts = new Array(50).fill(0), open = [];
  for (let k = 0; k < 50; k++) {
    open.push(await new Promise((done) => {
      const request = get(`${server.address}api/v1/events`, { headers: { Cookie: server.cookie } }, (response) => {
        response.on('data', (d) => { counts[k] += d.toString().split('event: live').length - 1; });
        response.on('error', () => {});
        done(request);
      });
    }));
  }
  await new Promise((done) => setTimeout(done, 1500));
  counts.fill(0);
  const seconds = quick ? 4 : 15, before = ticks(server.child.pid), sample = [];
  const listener = get(`${server.address}api/v1/events`, { headers: { Cookie: server.cookie } }, (response) => { response.on('data', (d) => sample.push(d.toString())); response.on('error', () => {}); });
  await new Promise((done) => setTimeout(done, seconds * 1000));
  const core = (ticks(server.child.pid) - before) / seconds, slowest = Math.min(...counts) / seconds;
  listener.destroy();
  open.forEach((request) => request.destroy());
  await post('live/stop', {});
  tell({ bench: 'viewers', viewers: 50, slowest_hz: slowest, core_share: core, limit_hz: 18, pass: slowest >= 18 });
  return sample.join('').split('\n').filter((line, i, all) => line.startsWith('data: ') && all[i - 1] === 'event: live').map((line) => line.slice(6));
}

// an hour of live figures, twenty a second, as fast as the page takes them; garbage collected before each reading
async function heap(browser, server, frames) {
  const context = await server.letIn(await browser.newContext({ viewport: { width: 1440, height: 900 }, serviceWorkers: 'block' }));
  const page = await context.newPage();
  await page.addInitScript(() => {
    window.EventSource = class extends EventTarget {
      static CLOSED = 2;
      constructor() { super(); this.readyState = 1; window.stream = this; setTimeout(() => this.onopen?.(), 0); }
      close() {}
    };
  });
  await page.goto(`${server.address}#/live`);
  await page.locator('.hero-value').first().waitFor();
  const cdp = await context.newCDPSession(page);
  const total = quick ? 7200 : 72000, readings = [];
  for (let done = 0; done <= total; done += total / 12) {
    await cdp.send('HeapProfiler.collectGarbage');
    readings.push((await cdp.send('Runtime.getHeapUsage')).usedSize / 1e6);
    await page.evaluate(async ([list, count]) => {
      for (let i = 0; i < count; i++) {
        const frame = JSON.parse(list[i % list.length]);
        if (frame.values.speed != null) frame.values.speed += i % 997;
        window.stream.dispatchEvent(new MessageEvent('live', { data: JSON.stringify(frame) }));
        if (i % 20 === 0) await new Promise((r) => requestAnimationFrame(r));
      }
    }, [frames.slice(0, 50), total / 12]);
  }
  const half = readings.slice(3), n = half.length, mean = half.reduce((a, b) => a + b) / n;
  const slope = half.reduce((sum, y, i) => sum + (i - (n - 1) / 2) * (y - mean), 0) / half.reduce((sum, _y, i) => sum + (i - (n - 1) / 2) ** 2, 0);
  const grown = slope * (n - 1);
  tell({ bench: 'heap', frames: total, first_mb: readings[0], settled_mb: half[0], last_mb: readings[readings.length - 1], grown_mb: grown, limit_mb: 1, pass: grown < 1 });
  await context.close();
}

async function weight(server) {
  let sum = 0;
  for (const path of ['', 'early.js', 'app.js', 'shared.js', 'app.css', 'icon.svg']) // what the first screen needs; more.js comes when asked for
    sum += await new Promise((done) => get(`${server.address}${path}`, { headers: { 'Accept-Encoding': 'gzip' } }, (r) => { let n = 0; r.on('data', (d) => { n += d.length; }); r.on('end', () => done(n)); }));
  tell({ bench: 'weight', bytes: sum, limit: 100000, pass: sum < 100000 });
}

const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', '--disable-dev-shm-usage'] });
const parts = { weight: ({ server }) => weight(server), first: ({ server, pulls }) => firstPaint(browser, server, pulls), overlay: async ({ server, pulls }) => { await overlay(browser, server, pulls, 20, 100); await overlay(browser, server, pulls, 40, 60); },
  hover: ({ server }) => hover(browser, server), screen: ({ server }) => toScreen(browser, server), viewers: async ({ server }) => { frames = await viewers(server); },
  heap: async ({ server }) => { frames ??= await viewers(server); await heap(browser, server, frames); }, growth: ({ server }) => growth(browser, server) };
/* With an engine that has pulls of its own. */
const others = { predict: ({ server }) => predicts(browser, server), handover: ({ server, pulls }) => handOver(browser, server, pulls) };
const asked = (of) => Object.entries(of).filter(([name]) => !only || only.includes(name));
let server, frames = null;
async function all(of, pulls) {
  server = await serve();
  for (const [, part] of asked(of)) await part({ server, pulls });
  server.child.kill('SIGTERM');
  await new Promise((done) => { server.child.once('exit', done); });
}
try {
  if (asked(parts).length) {
    const begun = Date.now(), wanted = quick ? 100 : 3000, pulls = after('--book') ? JSON.parse(run('pull', 'list', '--json')).pulls.length : fill(wanted);
    tell({ bench: 'book', pulls, seconds: (Date.now() - begun) / 1000, pass: after('--book') != null || pulls === wanted });
    await all(parts, pulls);
  }
  if (asked(others).length) {
    book = join(folder, 'engine.book');
    await all(others, fill(quick ? 60 : 300, 'examples/engines/hill-climb-six.yaml'));
  }
} finally {
  await browser.close();
  server?.child.kill('SIGTERM');
  rmSync(folder, { recursive: true, force: true });
}
