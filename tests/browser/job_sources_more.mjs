// The sources that `job sources` leaves: lines in datagrams, lines on a serial line, registers on a serial line, an MQTT broker with lines and with
// figures, a recording of the book played again. Each is put together on the page, goes live, and leaves dashes once it is silent. What this
// machine can see is wrong is said beside its field; a peer that is not there is said where the figures would be, with what to look at.
// CAN: the form, and an interface that is not here; with an interface 'vcan0' the signals too, else that is skipped aloud.
// Outside sources: MQTT 3.1.1, 3.1 and 3.3 (the packets of a publisher), Debian's broker; pty_peer.py names its own.
import { execFileSync, spawn } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { existsSync, writeFileSync } from 'node:fs';
import { connect, createServer } from 'node:net';
import { join } from 'node:path';
import { axe, check, demoDay, folder, open, picture, serve, stopInOrder } from './harness.mjs';

const form = (page) => page.locator('.source-form');
const within = (place, name) => place.locator('label', { has: place.page().locator(`span:text-is("${name}")`) }).locator('input, select');
const field = (page, name) => within(form(page), name).first();
const take = (page) => form(page).getByRole('button', { name: 'Check it and take it' }).click();
async function build(page, kind, fields, rows = null) {
  await page.getByRole('button', { name: /field by field/ }).click();
  await form(page).getByLabel('Kind').first().selectOption(kind);
  for (const [name, text] of Object.entries(fields)) {
    const one = field(page, name);
    if (await one.evaluate((e) => e.tagName) === 'SELECT') await one.selectOption(text); else await one.fill(text);
  }
  if (rows) await form(page).getByLabel('Channels from a file').setInputFiles({ name: 'bus.yaml', mimeType: 'text/yaml', buffer: Buffer.from(rows) });
  if (rows) await form(page).locator('.source-rows fieldset').first().waitFor();
}
const begin = async (page) => {
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.getByRole('button', { name: 'Stop recording' }).waitFor();
};
async function taken(page) {
  await take(page);
  await form(page).waitFor({ state: 'detached', timeout: 10000 });
}
const hero = (page, at) => page.locator('.hero-value').nth(at).textContent();
const shows = (page, at, figure) => page.waitForFunction(([i, want]) => (document.querySelectorAll('.hero-value')[i]?.textContent ?? '').replace(/\D/g, '') === want, [at, figure], { timeout: 20000 }).then(() => true, () => false);
const dashes = (page) => page.waitForFunction(() => document.querySelectorAll('.hero-value')[0]?.textContent === '– –' && document.querySelectorAll('.hero-value')[1]?.textContent === '– –', null, { timeout: 15000 }).then(() => true, () => false);
async function stop(page) {
  const again = page.getByRole('button', { name: /stop/i }).first();
  await again.click();
  await page.waitForTimeout(1500);
  if (await page.getByRole('heading', { name: 'Begin', exact: true }).count() === 0) await again.click();
  await page.getByRole('heading', { name: 'Begin', exact: true }).waitFor({ timeout: 20000 });
}
/* Live, then silent, then stopped. */
async function liveThenSilent(page, what, silence, speed, torque) {
  check(`${what}: its figures are live`, await shows(page, 0, speed) && await shows(page, 1, torque), [await hero(page, 0), await hero(page, 1), await page.locator('.fresh').first().innerText()]);
  await silence();
  check(`${what}: silent, it leaves dashes`, await dashes(page), [await hero(page, 0), await hero(page, 1)]);
  await stop(page);
}

const freePort = async () => { const s = createServer(); await new Promise((done) => s.listen(0, '127.0.0.1', done)); const { port } = s.address(); await new Promise((done) => s.close(done)); return port; };

async function udp(page) {
  const port = await freePort(), out = createSocket('udp4');
  await build(page, 'udp', { port: String(port) });
  await taken(page);
  await begin(page);
  let k = 0;
  const sending = setInterval(() => { out.send(k === 0 ? 'Time [s],Engine Speed [rpm],Torque [N·m]\n' : `${k / 20},3330,142\n`, port, '127.0.0.1'); k++; }, 50);
  await liveThenSilent(page, 'lines in datagrams', () => clearInterval(sending), '3330', '142');
  out.close();
}

/* A device on a pseudo-terminal. */
async function pty(...words) {
  const child = spawn('/usr/bin/python3', [new URL('pty_peer.py', import.meta.url).pathname, ...words], { stdio: ['pipe', 'pipe', 'inherit'] });
  const line = await new Promise((resolve) => child.stdout.once('data', (d) => resolve(String(d).trim())));
  return { line, tell: (word) => child.stdin.write(word + '\n'), end: () => new Promise((done) => { child.on('exit', done); child.stdin.end(); }) };
}

async function serial(page) {
  const peer = await pty('lines', '20', 'Engine Speed [rpm]=2780', 'Torque [N.m]=133');
  await build(page, 'serial', { device: peer.line, baud: '57600' });
  await taken(page);
  await begin(page);
  await liveThenSilent(page, 'lines on a serial line', () => peer.tell('silent'), '2780', '133');
  await peer.end();
}

async function serialBus(page) {
  const peer = await pty('registers', '17', '0=4120', '1=166');
  await build(page, 'modbus-rtu', { device: peer.line, unit: '17' }, 'registers:\n  - {name: Engine Speed, unit: rpm, address: 0}\n  - {name: Torque, unit: N·m, address: 1}\n');
  await taken(page);
  await begin(page);
  await liveThenSilent(page, 'registers on a serial line', () => peer.tell('silent'), '4120', '166');
  /* another device answers: not ours, so no figure, and what to look at is said */
  const other = await pty('registers', '18', '0=4120', '1=166');
  await build(page, 'modbus-rtu', { device: other.line, unit: '17' });
  await taken(page);
  await begin(page);
  const why = await said(page, /number of the device|Gerät/);
  check('a device under another number shows no figure, and what to look at is said', why !== null && await hero(page, 0) === '– –', [await page.locator('.fresh').first().innerText(), await hero(page, 0)]);
  await stop(page);
  await peer.end();
  await other.end();
}

/* What stands where the figures would be live; null: it is not said within some seconds. */
const said = (page, pattern) => page.waitForFunction((p) => { const text = document.querySelector('.fresh')?.textContent ?? ''; return new RegExp(p).test(text) ? text : null; }, pattern.source, { timeout: 12000 }).then((h) => h.jsonValue(), () => null);

const packet = (kind, body) => Buffer.concat([Buffer.from(body.length < 128 ? [kind, body.length] : [kind, body.length % 128 | 128, body.length >> 7]), body]);
const text = (word) => { const bytes = Buffer.from(word); return Buffer.concat([Buffer.from([bytes.length >> 8, bytes.length & 255]), bytes]); };
/* A publisher: no more of MQTT than that needs. */
async function publisher(port) {
  for (let i = 0; i < 100; i++) {
    const line = connect(port, '127.0.0.1');
    const open = await new Promise((done) => { line.once('connect', () => done(true)); line.once('error', () => done(false)); });
    if (!open) { await new Promise((r) => setTimeout(r, 50)); continue; }
    line.on('error', () => {});
    const greeted = new Promise((done) => line.once('data', done));
    line.write(packet(0x10, Buffer.concat([text('MQTT'), Buffer.from([4, 2, 0, 0]), text('logger')])));
    await greeted;
    return { publish: (topic, payload) => line.write(packet(0x30, Buffer.concat([text(topic), Buffer.from(payload)]))), close: () => line.destroy() };
  }
  throw new Error('the broker does not answer');
}
const BROKER = '/usr/sbin/mosquitto';
async function broker(page) {
  if (!existsSync(BROKER)) { console.log('SKIPPED: no broker is installed: MQTT is not tried'); return; }
  const port = await freePort(), settings = join(folder, 'broker.conf');
  writeFileSync(settings, `listener ${port} 127.0.0.1\nallow_anonymous true\n`);
  const run = () => spawn(BROKER, ['-c', settings], { stdio: 'ignore' });
  let server = run();
  try {
    let out = await publisher(port), k = 0;
    await build(page, 'mqtt', { host: '127.0.0.1', port: String(port), topic: 'cell/lines' });
    await taken(page);
    await begin(page);
    let sending = setInterval(() => { out.publish('cell/lines', k === 0 || k % 40 === 0 ? 'Time [s],Engine Speed [rpm],Torque [N·m]' : `${k / 20},3010,121`); k++; }, 50);
    await liveThenSilent(page, 'lines of a broker', () => clearInterval(sending), '3010', '121');
    await build(page, 'mqtt', { host: '127.0.0.1', port: String(port), topic: '' }, 'topics:\n  - {name: Engine Speed, unit: rpm, topic: cell/rpm}\n  - {name: Torque, unit: N·m, topic: cell/torque}\n');
    await taken(page);
    await begin(page);
    sending = setInterval(() => { out.publish('cell/rpm', '3560'); out.publish('cell/torque', '139'); }, 50);
    check('figures of a broker are live', await shows(page, 0, '3560') && await shows(page, 1, '139'), [await hero(page, 0), await hero(page, 1)]);
    /* the broker dies, and comes back */
    clearInterval(sending);
    server.kill('SIGKILL');
    check('a broker that dies leaves dashes', await dashes(page), [await hero(page, 0), await hero(page, 1)]);
    server = run();
    out = await publisher(port);
    sending = setInterval(() => { out.publish('cell/rpm', '3570'); out.publish('cell/torque', '140'); }, 50);
    await liveThenSilent(page, 'the broker is back', () => clearInterval(sending), '3570', '140');
    out.close();
  } finally { server.kill('SIGKILL'); }
}

/* A recording of the demo day: its figures are those of its pull, and at its end there is none. */
async function replay(page) {
  await build(page, 'replay', { recording: '2', speed: '1' });
  await taken(page);
  await begin(page);
  const seen = [];
  for (let i = 0; i < 120; i++) {
    const [speed, torque] = [await hero(page, 0), await hero(page, 1)].map((s) => Number(s.replace(/\D/g, '') || NaN));
    if (speed > 0) seen.push([speed, torque]);
    if (await page.getByRole('heading', { name: 'Begin', exact: true }).count()) break;
    await page.waitForTimeout(100);
  }
  const fastest = Math.max(...seen.map(([s]) => s)), own = await page.evaluate(() => fetch('/api/v1/pulls?units=si').then((r) => r.json()).then((a) => a.pulls[1].top_speed_rpm));
  check('a recording played again rises to its own top speed', seen.length > 5 && fastest <= own * 1.05 && fastest > own * 0.8, [seen.length, fastest, own]);
  await page.getByRole('heading', { name: 'Begin', exact: true }).waitFor({ timeout: 60000 });
  check('and at its end there is no figure', await dashes(page), [await hero(page, 0)]);
}

async function bus(page) {
  const rows = 'signals:\n  - {name: RPM, unit: rpm, id: 256, start: 0, length: 16}\n  - {name: Torque, unit: N·m, id: 256, start: 16, length: 16, scale: 0.1}\n';
  await build(page, 'can', { interface: 'can77' }, rows);
  await take(page);
  const says = await beside(page, 'interface');
  check('an interface that is not here is said beside its field, with what to do', says.includes('can77') && /plug|bring it up/.test(says), says);
  await picture(page, 'sources-can');
  await axe(page, 'a bus that is not here');
  await form(page).getByRole('button', { name: 'Close' }).click();
  if (!existsSync('/sys/class/net/vcan0')) { console.log('SKIPPED: this kernel has no vcan0: signals of a real CAN socket are not tried'); return; }
  await build(page, 'can', { interface: 'vcan0' });
  await taken(page);
  await begin(page);
  const send = () => execFileSync('/usr/bin/python3', ['-c', 'import socket, struct; s = socket.socket(socket.PF_CAN, socket.SOCK_RAW, socket.CAN_RAW); s.bind(("vcan0",)); s.send(struct.pack("=IB3x8s", 256, 8, struct.pack("<HH", 3456, 1230)))']);
  const sending = setInterval(send, 100);
  await liveThenSilent(page, 'signals of a CAN bus', () => clearInterval(sending), '3456', '123');
}

async function beside(page, name) {
  const label = form(page).locator('label', { has: page.locator(`span:text-is("${name}")`) }).first();
  await label.locator('[role="alert"]').waitFor({ timeout: 8000 }).catch(() => 0);
  return await label.locator('[role="alert"]').count() ? label.locator('[role="alert"]').innerText() : '(nothing)';
}

/* What this machine sees at once. */
async function wrongHere(page) {
  const busy = createSocket('udp4');
  await new Promise((done) => busy.bind(0, '127.0.0.1', done));
  const REGISTERS = 'registers:\n  - {name: RPM, unit: rpm, address: 0}\n';
  for (const [kind, fields, name, pattern, rows] of [
    ['serial', { device: '/dev/ttyUSB77' }, 'device', /plug/, null],
    ['serial', { device: '/dev/null' }, 'device', /not a serial line/, null],
    ['modbus-rtu', { device: '/dev/ttyUSB77' }, 'device', /plug/, REGISTERS],
    ['udp', { address: '192.0.2.9', port: '5000' }, 'address', /0\.0\.0\.0/, null],
    ['udp', { address: '127.0.0.1', port: String(busy.address().port) }, 'port', /another program/, null],
    ['file', { path: '/no such folder/a.csv' }, 'path', /folder/, null],
  ]) {
    await build(page, kind, fields, rows);
    await take(page);
    const says = await beside(page, name);
    check(`${kind}, ${JSON.stringify(fields)}: said beside '${name}', with what to do`, pattern.test(says) && await field(page, name).getAttribute('aria-invalid') === 'true', says);
    await form(page).getByRole('button', { name: 'Close' }).click();
  }
  busy.close();
}

/* A peer that is not there: no figure, and why, where the figures would be. What cannot even be begun is said beside the source. */
async function wrongThere(page) {
  const port = await freePort();
  for (const [kind, fields, rows] of [['tcp', { host: '127.0.0.1', port: String(port) }, null], ['mqtt', { host: '127.0.0.1', port: String(port), topic: '' }, null], ['modbus', { host: '127.0.0.1', port: String(port) }, 'registers:\n  - {name: RPM, unit: rpm, address: 0}\n']]) {
    await build(page, kind, fields, rows);
    await taken(page);
    await begin(page);
    const why = await said(page, /port/);
    check(`${kind}: nobody there is said with what to look at`, why !== null && /right/.test(why) && await hero(page, 0) === '– –', await page.locator('.fresh').first().innerText());
    if (kind === 'tcp') { await picture(page, 'sources-nobody'); await axe(page, 'a source that nobody answers'); }
    await stop(page);
  }
  await build(page, 'udp', { address: '0.0.0.0', port: String(port) });
  await taken(page);
  await begin(page);
  check('udp: nothing that comes is said with what to look at', await said(page, /address and port/) !== null && await hero(page, 0) === '– –', await page.locator('.fresh').first().innerText());
  await stop(page);
  const source = page.getByLabel('Source', { exact: true });
  await source.fill('tcp://nowhere.invalid:5000');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  const problem = page.locator('form .problem', { hasText: 'nowhere.invalid' });
  await problem.waitFor({ timeout: 20000 }).catch(() => 0);
  check('a host that nobody knows is said beside the source, with what to do', await source.getAttribute('aria-invalid') === 'true' && /spelt|figures/.test(await problem.count() ? await problem.innerText() : ''), await page.locator('form').first().innerText().then((s) => s.slice(0, 400)));
  await picture(page, 'sources-unknown');
  await source.fill('tcp://127.0.0.1:5000');
  check('and goes when it is typed in', await problem.count() === 0 && await source.getAttribute('aria-invalid') !== 'true');
}

export default async function more() {
  const made = demoDay(), server = await serve(made.book), page = await open();
  await page.goto(`${server.address}#/live`);
  for (const one of [udp, serial, serialBus, broker, replay, bus, wrongHere, wrongThere]) {
    try { await one(page); } catch (problem) {
      check(`${one.name}: ${problem.message.split('\n')[0]}`, false, await page.locator('main').innerText().then((s) => s.slice(0, 300)));
      await page.goto('about:blank');
      await page.evaluate(() => 0);
      await page.goto(`${server.address}#/live`);
      if (await page.getByRole('button', { name: 'Stop recording' }).isVisible().catch(() => false)) await stop(page);
    }
  }
  await page.context().close();
  await stopInOrder(server);
}
