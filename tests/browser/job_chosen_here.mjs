// What is chosen from a file on the page: the logo of the sheets, and the table of alarms of one session. Wrong files, and what another one was before.
// Outside: a PNG (W3C) of one dot, as bytes, pdfimages (poppler) for the sheet.
import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { axe, check, demoDay, folder, logger, open, picture, run, serve, stopInOrder } from './harness.mjs';

const PNG = Buffer.from('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==', 'base64');
const file = (name, bytes) => { const path = join(folder, name); writeFileSync(path, bytes); return path; };

async function logo(page, server) {
  await page.goto(`${server.address}#/shop`);
  const place = page.locator('.logo-choice'), choose = place.getByLabel('Logo on the sheets');
  await choose.setInputFiles(file('words.png', 'no picture'));
  await place.getByText('give a PNG picture of up to 1 MB').waitFor();
  check('a file that is no picture is refused, and nothing is kept', (await page.request.get(`${server.address}api/v1/logo`)).status() === 404);
  await choose.setInputFiles(file('large.png', Buffer.concat([PNG, Buffer.alloc(1 << 20)])));
  await place.getByText('a logo has at most 1 MB').waitFor();
  await choose.setInputFiles(file('logo.png', PNG));
  await place.locator('img').waitFor();
  check('the picture is seen', await place.locator('img').evaluate((i) => i.decode().then(() => i.naturalWidth === 1)));
  check('what was refused is said no more', await place.locator('.problem').count() === 0);
  const sheet = file('sheet.pdf', await (await page.request.get(`${server.address}api/v1/sheet?kind=day`)).body());
  check('the sheet has it', /image/.test(execFileSync('pdfimages', ['-list', sheet], { encoding: 'utf8' })));
  await axe(page, 'the shop with a logo');
  await picture(page, 'shop-logo');
  await place.getByRole('button', { name: 'Take it away' }).click();
  await place.locator('img').waitFor({ state: 'detached' });
  check('taken away', (await page.request.get(`${server.address}api/v1/logo`)).status() === 404);
}

async function alarms(page, server) {
  const own = 'alarms:\n  - name: too fast for today\n    watch: speed\n    above: 3000 rpm\n    hold: 0.1 s\n    action: notice\n    says: let the speed fall\n';
  const line = await logger(20, { 'Speed [rpm]': 900, 'Torque [N.m]': 20 });
  await page.goto(`${server.address}#/live`);
  await page.getByLabel('Source').fill(line.source);
  await page.getByRole('combobox', { name: 'Alarms' }).selectOption('file');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  check('no file, no beginning', (await (await page.request.get(`${server.address}api/v1/live`)).json()).running === false);
  const choose = page.getByLabel('Table of alarms');
  await choose.setInputFiles(file('odd.yaml', 'alarms:\n  - name: x\n    watch: speeed\n    above: 3000 rpm\n    action: notice\n'));
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.getByText(/odd\.yaml.*speeed|speeed.*odd\.yaml/).first().waitFor();
  check('a table that cannot be read begins nothing', (await (await page.request.get(`${server.address}api/v1/live`)).json()).running === false);
  await choose.setInputFiles(file('today.yaml', own));
  await page.getByText('For this session only: today.yaml').waitFor();
  await axe(page, 'a table of alarms from a file');
  await picture(page, 'live-table');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.getByText('Alarms: today.yaml').waitFor();
  line.set({ 'Speed [rpm]': 3500 });
  await page.locator('.alarm', { hasText: 'too fast for today' }).waitFor();
  check('it watches', true);
  const live = await (await page.request.get(`${server.address}api/v1/live`)).json();
  check('and nothing else does', live.alarms.length === 1 && live.alarms_name === 'today.yaml', live.alarms.map((a) => a.name));
  await page.getByRole('button', { name: /Stop recording/ }).click();
  await page.getByRole('button', { name: 'Begin recording' }).waitFor();
  await page.getByRole('combobox', { name: 'Alarms' }).selectOption('template');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.waitForFunction(() => fetch('/api/v1/live').then((r) => r.json()).then((l) => l.running && l.alarms.length > 0 && !l.alarms.some((a) => a.name === 'too fast for today')));
  check('the next session has the template', true);
  await page.getByRole('button', { name: /Stop recording/ }).click();
  line.close();
}

export default async function chosenHere() {
  const { book } = demoDay();
  run('book', 'set', '--book', book, '--shop', 'Weir and Daughter');
  const server = await serve(book), page = await open();
  await logo(page, server);
  await alarms(page, server);
  await page.close();
  await stopInOrder(server);
}
