// Sources put together on the page: every kind that the command line has, each fault beside its field and all at once, what was typed there
// again, and three of them begun: a device on Modbus TCP, a file that a logger writes, a recording played again. A peer that falls silent
// leaves dashes.
// Outside source: Modbus application protocol 1.1b3, 6.3 (function 3), and Modbus messaging on TCP/IP 1.0b, 3.1.3 (the header), by which the device
// of this test answers.
import { appendFileSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { axe, check, demoDay, folder, open, picture, run, serve, stopInOrder } from './harness.mjs';

const KINDS = ['practice', 'tcp', 'udp', 'serial', 'file', 'replay', 'modbus', 'modbus-rtu', 'can', 'mqtt'];

/* Holding registers that the test sets; it can fall silent. */
async function device(registers) {
  const sockets = new Set();
  let silent = false;
  const tcp = createServer((socket) => {
    sockets.add(socket);
    socket.on('error', () => {});
    socket.on('close', () => sockets.delete(socket));
    socket.on('data', (q) => {
      if (silent || q.length < 12 || q[7] !== 3) return;
      const at = q.readUInt16BE(8), count = q.readUInt16BE(10), a = Buffer.alloc(9 + 2 * count);
      q.copy(a, 0, 0, 4);
      a.writeUInt16BE(3 + 2 * count, 4); a[6] = q[6]; a[7] = 3; a[8] = 2 * count;
      for (let i = 0; i < count; i++) a.writeUInt16BE(registers[at + i] ?? 0, 9 + 2 * i);
      socket.write(a);
    });
  });
  await new Promise((done) => tcp.listen(0, '127.0.0.1', done));
  return { port: tcp.address().port, silence: () => { silent = true; }, close: () => { sockets.forEach((s) => s.destroy()); tcp.close(); } };
}

const form = (page) => page.locator('.source-form');
/* By the words before it: what is said of it stands in its label, too. */
const within = (place, name) => place.locator('label', { has: place.page().locator(`span:text-is("${name}")`) }).locator('input, select');
const field = (page, name) => within(form(page), name).first();
const take = (page) => form(page).getByRole('button', { name: 'Check it and take it' }).click();
async function build(page, kind) {
  await page.getByRole('button', { name: /field by field/ }).click();
  await form(page).getByLabel('Kind').first().selectOption(kind);
}
const source = (page) => page.getByLabel('Source', { exact: true }).inputValue();
const hero = (page, at) => page.locator('.hero-value').nth(at).textContent();
const shows = (page, at, figure) => page.waitForFunction(([i, want]) => (document.querySelectorAll('.hero-value')[i]?.textContent ?? '').replace(/\D/g, '') === want, [at, figure], { timeout: 20000 }).then(() => true, () => false);
async function stop(page) {
  const again = page.getByRole('button', { name: /stop/i }).first();
  await again.click();
  await page.waitForTimeout(1500);
  if (await page.getByRole('heading', { name: 'Begin', exact: true }).count() === 0) await again.click(); /* in a pull it asks once */
  await page.getByRole('heading', { name: 'Begin', exact: true }).waitFor({ timeout: 20000 });
}

async function kinds(page) {
  await build(page, 'tcp');
  const offered = await form(page).getByLabel('Kind').first().locator('option').evaluateAll((all) => all.map((o) => o.value));
  check('every kind of the command line is offered', KINDS.every((k) => offered.includes(k)) && offered.length === KINDS.length, offered);
  const help = run('help', 'cell', 'record').split('Sources:')[1].replace(/\s+/g, ' ');
  check('and help names them', KINDS.every((k) => help.includes(k + ':')), help);
  await field(page, 'port').fill('70000');
  await take(page);
  const says = await form(page).locator('[role="alert"]').allInnerTexts();
  check('every fault is said at once, beside its field', says.length === 2 && says.some((s) => s.includes('host')) && says.some((s) => s.includes('65535')), says);
  check('and the field is marked', await field(page, 'port').getAttribute('aria-invalid') === 'true');
  await axe(page, 'a source with faults');
  await field(page, 'host').fill('192.0.2.7');
  check('a fault goes when its field is typed in', (await form(page).locator('[role="alert"]').count()) === 1);
  await page.reload();
  await build(page, 'tcp');
  check('what was typed is there again', await field(page, 'host').inputValue() === '192.0.2.7' && await field(page, 'port').inputValue() === '70000');
  await field(page, 'port').fill('5000');
  await field(page, 'port').press('Enter');
  await form(page).waitFor({ state: 'detached' });
  check('Enter takes it, and begins nothing', await source(page) === 'tcp://192.0.2.7:5000' && await page.getByRole('heading', { name: 'Begin' }).count() === 1, await source(page));
  for (const [kind, name, text] of [['file', 'path', '/proc/self/mem'], ['serial', 'device', '/etc/passwd'], ['replay', 'recording', '99999'], ['can', 'interface', 'can 0']]) {
    await build(page, kind);
    await field(page, name).fill(text);
    await take(page);
    await form(page).locator('[role="alert"]').first().waitFor({ timeout: 5000 }).catch(() => 0);
    check(`${kind} ${text}: refused beside its field`, await field(page, name).getAttribute('aria-invalid') === 'true', await form(page).innerText());
    await form(page).getByRole('button', { name: 'Close' }).click();
  }
}

async function modbus(page) {
  const bus = await device({ 0: 3210, 1: 187 });
  await build(page, 'modbus');
  await field(page, 'host').fill('127.0.0.1');
  await field(page, 'port').fill(String(bus.port));
  await take(page);
  await form(page).locator('[role="alert"]', { hasText: 'channel' }).waitFor({ timeout: 5000 });
  check('a bus without a channel is refused', await source(page) !== `modbus://127.0.0.1:${bus.port}/1`);
  await form(page).getByLabel('Channels from a file').setInputFiles({ name: 'bus.yaml', mimeType: 'text/yaml', buffer: Buffer.from('registers:\n  - {name: Engine Speed, unit: rpm, address: 0}\n  - {name: Torque, unit: N·m, address: 1}\n') });
  await form(page).locator('.source-rows fieldset').nth(1).waitFor();
  check('channels are read from a file', await form(page).locator('.source-rows fieldset').nth(1).locator('label', { has: page.locator('span:text-is("address")') }).locator('input').inputValue() === '1');
  await form(page).getByRole('button', { name: 'Add a channel' }).click();
  const third = form(page).locator('.source-rows fieldset').nth(2);
  await within(third, 'name').fill('Oil Pressure');
  await within(third, 'unit').fill('bar');
  await within(third, 'address').fill('65536');
  await take(page);
  await third.locator('[role="alert"]').waitFor({ timeout: 5000 });
  check('a row that cannot be is said in its field', await within(third, 'address').getAttribute('aria-invalid') === 'true' && /65535/.test(await third.innerText()), await third.innerText());
  await picture(page, 'sources-modbus');
  await axe(page, 'the channels of a bus');
  await form(page).getByRole('button', { name: 'Take out: Oil Pressure' }).click();
  await take(page);
  await form(page).waitFor({ state: 'detached' });
  check('its address names a map of this machine', /^modbus:\/\/127\.0\.0\.1:\d+\/1\?map=.*bus-[0-9a-f]{24}\.yaml&every=0\.1$/.test(await source(page)), await source(page));
  await page.getByRole('button', { name: 'Begin recording' }).click();
  check('and its figures are live', await shows(page, 0, '3210') && await shows(page, 1, '187'), [await hero(page, 0), await hero(page, 1)]);
  bus.silence();
  await page.waitForFunction(() => document.querySelector('.hero-value')?.textContent === '– –', null, { timeout: 15000 }).catch(() => 0);
  check('a device that falls silent leaves a dash', await hero(page, 0) === '– –', await hero(page, 0));
  await stop(page);
  bus.close();
}

async function file(page) {
  const path = join(folder, 'a logger.csv');
  writeFileSync(path, 'Time [s],Engine Speed [rpm],Torque [N·m]\n');
  await build(page, 'file');
  await field(page, 'path').fill(path);
  await take(page);
  await form(page).waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.getByRole('button', { name: 'Stop recording' }).waitFor();
  let k = 0;
  const writing = setInterval(() => { k++; appendFileSync(path, `${k / 20},4440,151\n`); }, 50);
  check('a file is followed as it is written', await shows(page, 0, '4440') && await shows(page, 1, '151'), [await hero(page, 0), await hero(page, 1)]);
  clearInterval(writing);
  await page.waitForFunction(() => document.querySelector('.hero-value')?.textContent === '– –', null, { timeout: 15000 }).catch(() => 0);
  check('and leaves a dash when nothing is written any more', await hero(page, 0) === '– –', await hero(page, 0));
  await stop(page);
}

async function replay(page) {
  await build(page, 'replay');
  await field(page, 'recording').fill('1');
  await field(page, 'speed').fill('10');
  await take(page);
  await form(page).waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Begin recording' }).click();
  const runs = await page.waitForFunction(() => Number((document.querySelector('.hero-value')?.textContent ?? '').replace(/\D/g, '')) > 1000, null, { timeout: 30000 }).then(() => true, () => false);
  check('a recording is played again', runs, await hero(page, 0));
  await page.waitForTimeout(1000);
  if (await page.getByRole('button', { name: 'Stop recording' }).isVisible()) await stop(page);
}

/* No peer is there: what is said is that nothing comes, and no figure. */
async function nobody(page) {
  await build(page, 'mqtt');
  await field(page, 'host').fill('127.0.0.1');
  await field(page, 'port').fill('1');
  await field(page, 'topic').fill('cell/lines');
  await take(page);
  await form(page).waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.getByRole('button', { name: 'Stop recording' }).waitFor();
  await page.waitForTimeout(1500);
  check('a broker that is not there shows dashes', await hero(page, 0) === '– –' && /waiting for data|NO DATA/.test(await page.locator('.fresh').first().innerText()), await page.locator('.fresh').first().innerText());
  await stop(page);
}

export default async function sources() {
  const made = demoDay(), server = await serve(made.book), page = await open();
  await page.goto(`${server.address}#/live`);
  await kinds(page);
  await modbus(page);
  await file(page);
  await replay(page);
  await nobody(page);
  await page.context().close();
  await stopInOrder(server);
}
