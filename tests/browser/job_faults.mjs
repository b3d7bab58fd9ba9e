// The faults of a cell's network, each with every figure on Live held to its age: a source whose rows say in their own figures which row they are,
// and three pages that are looked at twenty times a second: two tabs of one device, and a second device behind a proxy that can be stopped, its
// clock three days off. Silence, a network cut, a server killed in a pull, a page behind another and asleep, two tabs of which one stops, a
// source of one row a second. A figure is shown only while its own row is young enough; and the fault is told. Bounds: as job_stale.mjs has them.
import { createServer, connect } from 'node:net';
import { check, demoDay, open, serve } from './harness.mjs';

const rest = (ms) => new Promise((done) => { setTimeout(done, ms); });
const grouped = (n) => String(n).replace(/\B(?=(\d{3})+$)/g, ',');

/* Row k as the page shows it: its speed in tens, its torque in whole N·m, the power of the two in kW, the oil pressure in bar. */
function rowOf(k) {
  const speed = 3000 + 10 * (k % 300), torque = 50 + k % 900, oil = 3 + k % 100 / 100;
  return { speed, torque, oil, shown: new Set([grouped(speed), String(torque), grouped(Math.round(torque * speed * Math.PI / 30 / 1000)), oil.toFixed(2)]) };
}
async function source(hz) {
  const sockets = new Set(), sent = [];
  let silent = false, k = 0;
  const tcp = createServer((socket) => { socket.on('error', () => {}); socket.on('close', () => sockets.delete(socket)); socket.write('Time [s],Speed [rpm],Torque [N.m],Oil pressure [bar]\n'); sockets.add(socket); });
  await new Promise((done) => tcp.listen(0, '127.0.0.1', done));
  const began = performance.now();
  const timer = setInterval(() => {
    if (silent || sockets.size === 0) return;
    const row = rowOf(k++), at = performance.timeOrigin + performance.now();
    sent.push({ at, shown: row.shown });
    sockets.forEach((s) => s.write(`${((performance.now() - began) / 1000).toFixed(3)},${row.speed},${row.torque},${row.oil.toFixed(2)}\n`));
  }, 1000 / hz);
  return { source: `tcp://127.0.0.1:${tcp.address().port}`, sent, silence: (is) => { silent = is; }, close: () => { clearInterval(timer); sockets.forEach((s) => s.destroy()); tcp.close(); } };
}

/* A network between a device and the server. Stopped, what was connected stays so and nothing goes through. */
async function proxy(port) {
  let stopped = false;
  const server = createServer((near) => {
    const far = connect(port, '127.0.0.1'), own = `127.0.0.1:${server.address().port}`;
    for (const s of [near, far]) s.on('error', () => { near.destroy(); far.destroy(); });
    near.on('data', (d) => { if (!stopped) far.write(Buffer.from(d.toString('latin1').replaceAll(own, `127.0.0.1:${port}`), 'latin1')); });
    far.on('data', (d) => { if (!stopped) near.write(d); });
    near.on('close', () => far.destroy());
    far.on('close', () => near.destroy());
  });
  await new Promise((done) => server.listen(0, '127.0.0.1', done));
  return { address: `http://127.0.0.1:${server.address().port}/`, stop: (is) => { stopped = is; }, close: () => server.close() };
}

/* Twenty times a second: each figure of the screen, by a clock that nobody can set. */
const watch = (page) => page.evaluate(() => {
  window.samples = [];
  const texts = (selector) => [...document.querySelectorAll(selector)].map((e) => e.textContent.trim());
  setInterval(() => { window.samples.push({ at: performance.timeOrigin + performance.now(), figures: [...texts('.hero-value'), ...texts('[data-gauge="oil_pressure"] .gauge-value').map((v) => v.split(/\s/)[0])], title: document.title, alarms: texts('.alarm').join(' | ') }); }, 50);
});
const taken = (page) => page.evaluate(() => window.samples.splice(0));
const isFigure = (text) => /^[\d.,]+$/.test(text);

/* How old the oldest figure that was shown was, in ms; Infinity where no row ever said it. */
function oldest(samples, sent) {
  let most = 0, of = null;
  for (const s of samples) for (const text of s.figures.filter(isFigure)) {
    let age = Infinity;
    for (let i = sent.length - 1; i >= 0 && age === Infinity; i--) if (sent[i].at <= s.at && sent[i].shown.has(text)) age = s.at - sent[i].at;
    if (age > most) { most = age; of = { text, at: s.at, age }; }
  }
  return { most, of };
}
const shows = (samples) => samples.filter((s) => s.figures.some(isFigure)).length;
const isLive = (page) => page.waitForFunction(() => document.querySelector('.fresh')?.textContent === 'live' && /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''), null, { timeout: 30000 });
const isNot = (page) => page.waitForFunction(() => [...document.querySelectorAll('.hero-value')].every((e) => e.textContent === '– –'), null, { timeout: 30000 });
const post = (page, path, body) => page.evaluate(([path, body]) => fetch('/api/v1/' + path, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) }).then((r) => r.status), [path, body]);

export default async function faults() {
  const book = demoDay().book;
  let server = await serve(book);
  const net = await proxy(server.port), tab = await open(), device = await open();
  const other = await tab.context().newPage();
  await device.addInitScript(() => { const RealDate = Date, away = -3 * 86400000; window.Date = class extends RealDate { constructor(...a) { if (a.length) super(...a); else super(RealDate.now() + away); } static now() { return RealDate.now() + away; } }; });
  await tab.goto(`${server.address}#/live`);
  await other.goto(`${server.address}#/window`);
  await device.goto(`${net.address}#/live`);
  const pages = { 'this tab': tab, 'the other tab': other, 'the device': device };
  let from = await source(100);
  check('a hundred rows a second are recorded', await post(tab, 'live/start', { sources: [from.source] }) === 200);
  for (const page of Object.values(pages)) { await isLive(page); await watch(page); }

  /* Every figure of each page since the last call, against the bound in ms. */
  const hold = async (fault, bound, only = pages) => {
    const found = {};
    for (const [name, page] of Object.entries(pages)) {
      const samples = await taken(page), { most, of } = oldest(samples, from.sent);
      found[name] = samples;
      if (only[name]) check(`${fault}: ${name} shows no figure older than ${bound} ms, of ${samples.length} looks`, most <= bound, of);
      console.log(`${fault}, ${name}: ${samples.length} looks, figures in ${shows(samples)}, the oldest ${Math.round(most)} ms`);
    }
    return found;
  };
  const FAST = 1500, SLOW = 4500, LOST = 1500;
  await rest(3000);
  const sound = await hold('all is well', FAST);
  check('and figures are shown all the while', Object.values(sound).every((s) => shows(s) > 0.9 * s.length), Object.values(sound).map((s) => [shows(s), s.length]));
  check('a clock three days off is told on the device', /3 days behind/.test(await device.locator('.clocks').innerText()));

  from.silence(true);
  for (const page of Object.values(pages)) await isNot(page);
  await tab.locator('[data-alarm="no data"]').waitFor({ timeout: 20000 });
  await rest(500);
  const silence = await hold('a silent source', FAST);
  check('it is told as an alarm, with the sensors that are lost by it, and the title says the gravest', /^!/.test(silence['this tab'].at(-1).title) && /NO DATA from the cell/.test(silence['this tab'].at(-1).alarms) && /sensor lost/.test(silence['this tab'].at(-1).alarms), silence['this tab'].at(-1));
  from.silence(false);
  for (const page of Object.values(pages)) await isLive(page);

  net.stop(true);
  await isNot(device);
  await device.locator('[data-alarm="connection lost"]').waitFor({ timeout: 20000 }).catch(() => check('a cut network is an alarm of its own', false));
  const cut = await hold('a network cut', LOST);
  check('the others go on', shows(cut['this tab']) > 0.8 * cut['this tab'].length, [shows(cut['this tab']), cut['this tab'].length]);
  net.stop(false);
  await isLive(device);
  await hold('a network that is back', FAST);

  const hide = (is) => other.evaluate((is) => { Object.defineProperty(document, 'hidden', { configurable: true, get: () => is }); document.dispatchEvent(new Event('visibilitychange')); }, is);
  await hide(true);
  const client = await other.context().newCDPSession(other);
  await client.send('Page.setWebLifecycleState', { state: 'frozen' });
  await rest(4000);
  await client.send('Page.setWebLifecycleState', { state: 'active' });
  await hide(false);
  await isLive(other);
  await hold('a tablet that slept', FAST);

  await post(tab, 'live/control', { line: 'begin' });
  await tab.getByText('A pull is under way', { exact: false }).waitFor({ timeout: 20000 });
  const port = server.port;
  await server.stop('SIGKILL');
  for (const page of Object.values(pages)) await isNot(page);
  await rest(2000);
  const killed = await hold('a server killed in a pull', LOST);
  check('it is told', /connection/i.test(killed['this tab'].at(-1).title + killed['this tab'].at(-1).alarms), killed['this tab'].at(-1));
  server = await serve(book, port);
  await tab.getByRole('button', { name: 'Begin recording' }).waitFor({ timeout: 30000 });
  await rest(1000);
  const back = await hold('a server that came back and records nothing', LOST);
  check('no figure then', Object.values(back).every((s) => shows(s) === 0), Object.values(back).map(shows));
  from.close();

  from = await source(1);
  check('one row a second is recorded', await post(tab, 'live/start', { sources: [from.source] }) === 200);
  for (const page of Object.values(pages)) await isLive(page);
  await Promise.all(Object.values(pages).map(taken));
  await rest(5000);
  await hold('one row a second', SLOW);
  from.silence(true);
  for (const page of Object.values(pages)) await isNot(page);
  await hold('one row a second, silent', SLOW);
  from.silence(false);
  for (const page of Object.values(pages)) await isLive(page);
  await post(other, 'live/stop', {});
  await tab.getByRole('button', { name: 'Begin recording' }).waitFor({ timeout: 20000 });
  for (const page of Object.values(pages)) await isNot(page);
  await rest(500);
  await hold('stopped in the other tab', SLOW);
  from.close();
  net.close();
  await tab.context().close();
  await device.context().close();
  await server.stop();
}
