// The moment at which a tired person does it: a double tap on Clear and on Stop, Enter held down, Back in the middle of a form, the same file
// dropped twice. Each does what one deliberate press would have done, and nothing typed is lost.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { axe, check, demoDay, logger, open, serve, stopInOrder } from './harness.mjs';

const WARM = { 'Speed [rpm]': 900, 'Torque [N.m]': 20, 'Oil pressure [bar]': 3, 'Oil temperature [degC]': 90, 'Coolant temperature [degC]': 80 };
const get = (page, path) => page.evaluate((p) => fetch('/api/v1/' + p).then((r) => r.json()), path);
const control = (page, line) => page.evaluate((text) => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ line: text }) }).then((r) => r.status), line);
const alarm = (page, name) => page.locator(`[data-alarm="${name}"]`);

/* Two taps of one finger at one place, as fast as fingers are. */
async function twice(page, target) {
  const box = await target.boundingBox(), x = box.x + box.width / 2, y = box.y + box.height / 2;
  await page.touchscreen.tap(x, y);
  await page.waitForTimeout(120);
  await page.touchscreen.tap(x, y);
}
/* A key that stays down: a browser repeats it. */
async function held(page, key, times = 12) {
  for (let i = 0; i < times; i++) { await page.keyboard.down(key); await page.waitForTimeout(30); }
  await page.keyboard.up(key);
}

async function alarms(page, line) {
  await page.getByLabel('Source').fill(line.source);
  await page.getByRole('button', { name: 'Begin recording' }).tap();
  await page.waitForFunction(() => document.querySelector('.fresh')?.textContent === 'live', null, { timeout: 20000 });
  line.set({ 'Coolant temperature [degC]': 110 });
  for (const name of ['coolant very hot', 'coolant hot']) await alarm(page, name).waitFor({ timeout: 20000 });
  line.set(WARM);
  await page.waitForTimeout(1500);
  const first = page.locator('.alarm').first(), name = await first.getAttribute('data-alarm'), other = name === 'coolant hot' ? 'coolant very hot' : 'coolant hot';
  await twice(page, first.getByRole('button', { name: /^Clear: / }));
  await alarm(page, name).waitFor({ state: 'detached', timeout: 10000 });
  await page.waitForTimeout(1000);
  check('a double tap on Clear clears that alarm, and not the one that slid under the finger', await alarm(page, other).count() === 1);
  await alarm(page, other).getByRole('button', { name: /^Clear: / }).tap();
  await alarm(page, other).waitFor({ state: 'detached', timeout: 10000 });
  check('which is cleared by a tap of its own', await page.locator('.alarm').count() === 0);
}

async function atTheWindow(page) {
  const records = () => get(page, 'live').then((l) => l.running);
  await control(page, 'begin');
  await page.locator('.fresh.pull').waitFor({ timeout: 20000 });
  const stop = page.locator('.live-actions .stop');
  await twice(page, stop);
  await page.waitForTimeout(800);
  check('in a pull a double tap on Stop asks, and stops nothing', await records() === true && await page.locator('.live-actions .stop.asks').count() === 1);
  await page.waitForFunction(() => !document.querySelector('.live-actions .stop.asks'), null, { timeout: 10000 });
  await stop.focus();
  await held(page, 'Enter');
  await page.waitForTimeout(600);
  check('nor does Enter held down on it', await records() === true);
  await page.locator('.live-actions input').fill('a tick from the front');
  await held(page, 'Enter');
  await page.waitForTimeout(600);
  const marks = (await get(page, 'live')).news.filter((n) => n.news.event === 'mark' || /a tick from the front/.test(n.text ?? ''));
  check('Enter held down in the mark marks once', marks.length === 1, marks.map((m) => m.text));
  await control(page, 'end');
  await page.waitForFunction(() => !document.querySelector('.fresh.pull'), null, { timeout: 20000 });
  await stop.tap();
  await page.getByRole('button', { name: 'Begin recording' }).waitFor({ timeout: 30000 });
}

async function forms(page) {
  await page.evaluate(() => { location.hash = '#/day'; });
  await page.locator('.next-step').waitFor();
  await page.evaluate(() => { location.hash = '#/pulls?a=17'; });
  if (await page.locator('.list-turn').getAttribute('aria-expanded') === 'false') await page.locator('.list-turn').tap();
  await page.locator('tr[data-row="17"] button.figure-link').tap();
  const amend = page.locator('.pull-deeds details', { hasText: 'Amend it' });
  await amend.locator('summary').tap();
  await amend.getByLabel('Which').fill('humidity');
  await amend.getByLabel('How it is').fill('41 %');
  await amend.getByLabel('Reason').fill('the hygrometer was read again');
  await axe(page, 'an amendment in the middle');
  await page.goBack();
  await page.locator('.next-step').waitFor();
  await page.goForward();
  await amend.getByLabel('Reason').waitFor({ timeout: 20000 });
  const typed = [await amend.getByLabel('Which').inputValue(), await amend.getByLabel('How it is').inputValue(), await amend.getByLabel('Reason').inputValue()];
  check('Back in the middle of an amendment, and Forward: all of it stands there, in sight', typed.join('|') === 'humidity|41 %|the hygrometer was read again', typed);
  await page.reload();
  await amend.getByLabel('Reason').waitFor({ timeout: 20000 });
  check('a figure keeps what it is of over a reload', await amend.getByLabel('Which').inputValue() === 'humidity', await amend.getByLabel('Which').inputValue());
  await amend.getByLabel('Reason').focus();
  await held(page, 'Enter');
  await page.locator('tr[data-row="17"] .tag', { hasText: 'amended' }).waitFor({ timeout: 30000 });
  await page.waitForTimeout(500);
  const history = await get(page, 'pulls/17/history');
  check('Enter held down amends once, and complains of nothing', history.amendments.length === 1 && await page.locator('.said.grave').count() === 0, [history.amendments.length, await page.locator('.said-place').innerText()]);
}

/* Two tabs of one device at the engine: neither moves a reading to another valve, and a reload loses neither place nor stage. */
async function lash(page, address) {
  await page.evaluate(() => fetch('/api/v1/build/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{"build":"first"}' }));
  await page.goto(`${address}#/lash`);
  const other = await page.context().newPage(), valve = (p) => p.locator('.lash .valve').innerText();
  await page.getByLabel('Stage').fill('after the first pulls');
  const first = await valve(page);
  await page.locator('.lash-as').tap();
  await page.locator('.lash-keep').tap();
  await page.waitForFunction((was) => document.querySelector('.lash .valve').textContent !== was, first);
  const second = await valve(page);
  await page.reload();
  await page.locator('.lash .valve').waitFor();
  check('a reload at the engine keeps the valve and the stage', await valve(page) === second && await page.getByLabel('Stage').inputValue() === 'after the first pulls', [second, await valve(page), await page.getByLabel('Stage').inputValue()]);
  await other.goto(`${address}#/lash`);
  await other.locator('.lash-as').tap();
  await page.getByRole('button', { name: 'Skip' }).tap();
  await other.waitForFunction((was) => document.querySelector('.lash .valve').textContent !== was, second, { timeout: 5000 }).catch(() => undefined);
  const there = await valve(other), figure = await other.locator('.lash-value').innerText();
  check('what one tab has read is of its own valve only', there === second || /– –/.test(figure), [second, there, figure]);
  await twice(page, page.locator('.lash-as'));
  await twice(page, page.locator('.lash-keep'));
  await page.waitForTimeout(1500);
  const read = (await get(page, 'build?units=si')).readings.filter((r) => r.kind === 'lash');
  check('a double tap on Keep reads one valve', read.length === 2 && new Set(read.map((r) => r.what + (r.position ?? ''))).size === 2, read.map((r) => [r.what, r.position, r.shown]));
  await other.close();
  await page.goto(`${address}#/build`);
  const list = page.locator('details.item', { has: page.locator('summary b', { hasText: /^assembly$/ }) });
  await list.locator('summary').tap();
  const done = list.locator('li.open').first().getByRole('button', { name: 'Done' });
  let ticks = 0;
  page.on('request', (r) => { if (/build\/records/.test(r.url()) && /"done"/.test(r.postData() ?? '')) ticks++; });
  await done.scrollIntoViewIfNeeded(); /* what is tapped is in sight, and stands still */
  await page.waitForTimeout(400);
  await twice(page, done);
  await page.waitForTimeout(1500);
  check('a double tap on Done ticks once', ticks === 1 && await list.locator('li.done').count() === 1, [ticks, await list.locator('li.done').count()]);
}

async function files(page, made) {
  const text = readFileSync(join(made.recordings, 'run-13.csv'), 'utf8').trimEnd().split('\n').slice(0, -3).join('\n') + '\n';
  const pulls = () => get(page, 'pulls?units=si').then((r) => r.pulls.length), before = await pulls();
  const drop = (names) => page.evaluate(([names, text]) => {
    const data = new DataTransfer();
    for (const name of names) data.items.add(new File([text], name, { type: 'text/csv' }));
    dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }));
  }, [names, text]);
  const told = (what) => page.locator('.said', { hasText: what }).first().waitFor({ timeout: 30000 });
  await drop(['tired.csv', 'tired.csv']);
  await told('from 2 files');
  const says = await page.locator('.said-place').innerText();
  check('the same file twice in one drop is in the book once, and said so', await pulls() === before + 1 && /the same bytes are already in the book: nothing was added/.test(says) && /One pull from 2 files/.test(says), [await pulls() - before, says]);
  check('and is not compared with itself', !/[?&]b=/.test(page.url()) && await page.locator('.verdict-line').count() === 0, page.url());
  await drop(['tired.csv']);
  await told('from tired.csv');
  check('dropped again later: still once', await pulls() === before + 1, await pulls() - before);
}

export default async function tired() {
  const made = demoDay(), server = await serve(made.book), line = await logger(25, WARM);
  const page = await open({ viewport: { width: 1180, height: 820 }, hasTouch: true });
  await page.goto(`${server.address}#/live`);
  await page.locator('.heroes').waitFor();
  await alarms(page, line);
  await atTheWindow(page);
  await forms(page);
  await files(page, made);
  await lash(page, server.address);
  line.close();
  await page.context().close();
  await stopInOrder(server);
}
