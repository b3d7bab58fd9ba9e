// The first day of a new shop, on the page alone: from an empty book to the printed report and the customer's window. One script, played
// in four ways (job_day_*.mjs): at 1920, on a tablet by touch, by keyboard alone, in German. Nothing here asks the server but the page itself; what is
// in the book at the end is told by the command line, which is the peer. The cell is a logger on a line whose figures this test sets.
// What pointed is counted in the page: by keyboard alone no pointer ever went down, on the tablet every one was a finger.
// `broken`: the server is killed in the middle of what is typed and of a recording, and started again: what was typed is still there.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { ask, axe, check, folder, logger, open, picture, serve, stopInOrder } from './harness.mjs';

const AIR = { 'Oil temperature [degC]': 90, 'Coolant temperature [degC]': 82, 'Oil pressure [bar]': 4, 'Inlet air temperature [degC]': 21, 'Barometer [hPa]': 1008, 'Humidity [%]': 45 };
const IDLE = { 'Speed [rpm]': 900, 'Torque [N.m]': 18, ...AIR };
const LOW = 2500, HIGH = 6000, RATE = 350;

/* A pull as a brake lets it run: held at the bottom, up at an even rate, and back. `more` is what the set-up gives. */
const torqueAt = (rpm, more) => (230 + more) * (1 - ((rpm - 4600) / 6500) ** 2);
async function sweep(line, more, onWay = () => {}) {
  const put = (rpm, load) => line.set({ 'Speed [rpm]': rpm, 'Torque [N.m]': load ? torqueAt(rpm, more) + Math.sin(rpm / 37) * 0.6 : 18 });
  const wait = (ms) => new Promise((r) => setTimeout(r, ms));
  for (let i = 0; i < 50; i++) { put(LOW, true); await wait(40); }
  const began = performance.now();
  for (let rpm = LOW; rpm < HIGH; rpm = LOW + RATE * (performance.now() - began) / 1000) { put(rpm, true); if (await onWay(rpm)) return; await wait(20); }
  for (let rpm = HIGH; rpm > 1000; rpm -= 120) { put(rpm, false); await wait(20); }
  line.set(IDLE);
  await wait(1500);
}

/* One way of doing it: with a mouse, with fingers, or with the keyboard alone; in the words of the page's language. */
class Way {
  constructor(page, { keys, touch, broken }) { Object.assign(this, { page, keys, touch, broken, words: new Map(), breaks: 0 }); }
  async learnWords() {
    const texts = await this.page.evaluate(() => document.documentElement.lang.startsWith('en') ? [] : fetch('/api/v1/words').then((r) => r.json()).then((w) => w.texts));
    this.words = new Map(texts.map(([key, one]) => [key, one]));
  }
  t(english) { return this.words.get(english) ?? english; }
  button(name, exact = true) { return this.page.getByRole('button', { name: this.t(name), exact }).first(); }
  /* By Tab alone, as far as it takes; what cannot be reached fails here. */
  async reach(target) {
    await target.waitFor({ timeout: 30000 });
    if (!this.keys) return;
    const wanted = await target.elementHandle();
    for (let i = 0; i < 260; i++) {
      if (await wanted.evaluate((e) => document.activeElement === e)) return;
      await this.page.keyboard.press('Tab');
    }
    throw new Error('the keyboard does not reach ' + await wanted.evaluate((e) => e.outerHTML.slice(0, 140)));
  }
  async press(target, key = 'Enter') {
    await this.reach(target);
    if (this.keys) await this.page.keyboard.press(key); else if (this.touch) await target.tap(); else await target.click();
  }
  async type(target, text) {
    await this.reach(target);
    if (!this.keys) { if (this.touch) await target.tap(); await target.fill(text); return; }
    await this.page.keyboard.press('Control+A');
    await this.page.keyboard.type(text);
  }
  async to(screen, ready) {
    await this.press(this.page.locator(`.bar nav a[href="#/${screen}"]`));
    await this.page.locator(ready).first().waitFor({ timeout: 30000 });
  }
  /* A list of choices: by the arrow keys alone, or by its value. */
  async choose(target, value) {
    await this.reach(target);
    if (!this.keys) { await target.selectOption(value); return; }
    for (let i = 0; i < 40 && await target.inputValue() !== value; i++) await this.page.keyboard.press('ArrowDown');
    if (await target.inputValue() !== value) throw new Error('the arrow keys do not reach ' + value);
  }
  /* The browser's own dialog of files, opened as a person opens it. */
  async file(target, file) {
    const opened = this.page.waitForEvent('filechooser', { timeout: 15000 });
    if (this.keys) { await this.reach(target.locator('input')); await this.page.keyboard.press('Space'); } else await this.press(target);
    await (await opened).setFiles(file);
  }
  label(name) { return this.page.getByLabel(this.t(name), { exact: true }).first(); }
  /* The server is killed and started again, on the same book, where somebody has typed `text` into `field`: it stands there before, while and after. */
  async breakAt(where, field, text) {
    if (!this.broken) return;
    await this.kill();
    await this.page.locator('.said.grave').first().waitFor({ timeout: 20000 });
    const away = await field.inputValue();
    await this.start();
    const back = await field.inputValue();
    await this.page.reload();
    await field.waitFor({ timeout: 30000 });
    const anew = await field.inputValue();
    check(`${where}: what was typed outlives the server and a reload`, [away, back, anew].every((now) => now === text), [text, away, back, anew]);
    this.breaks++;
  }
  kill() { return this.server.stop('SIGKILL'); }
  async start() {
    this.server = await serve(this.book, this.server.port, false); /* the browser is let in by what it holds */
    await this.page.waitForFunction(() => !document.querySelector('.said.grave'), null, { timeout: 30000 });
  }
}

async function shopAndEngine(w) {
  await w.page.locator('.first').waitFor({ timeout: 30000 });
  await w.learnWords();
  await w.to('shop', '.shop');
  await w.type(w.label('Name of the shop'), 'Invented Engines');
  const settings = w.page.locator('form', { has: w.label('Name of the shop') });
  await w.press(settings.getByRole('button').last());
  await w.page.getByText(w.t('Settings are kept.')).waitFor();
  for (const [name, text] of [['Name of the cell', 'Cell 1'], ['Torque arm', '400 mm'], ["Absorber's torque limit", '900 N·m'], ["Absorber's speed limit", '9000 rpm']]) await w.type(w.label(name), text);
  await w.press(w.page.locator('form', { has: w.label('Torque arm') }).getByRole('button').last());
  await w.page.getByText(w.t('Kept: it holds for pulls to come.')).waitFor();
  check('the cell is made on the page', await w.page.evaluate(() => fetch('/api/v1/cell').then((r) => r.json()).then((c) => c.typed.arm)) === '400 mm');
  const zero = w.page.locator('form', { hasText: w.t('check weight') }).first();
  await w.type(zero.getByPlaceholder(w.t('0.3 N·m')), '0.2 N·m');
  await w.press(zero.getByRole('button'));
  await w.page.locator('.shop td', { hasText: '0.2000' }).or(w.page.locator('.shop td', { hasText: '0,2000' })).first().waitFor({ timeout: 15000 });
  await w.to('engine', '.engine');
  for (const [field, text] of [['name', 'First of the shop'], ['bore', '86 mm'], ['stroke', '86 mm']]) await w.type(w.page.locator(`.fields input[id$="-${field}"]`).first(), text);
  await w.breakAt('the engine', w.page.locator('#f--stroke'), '86 mm');
  await w.press(w.page.locator('.part-tabs a[href*="part=train"]'));
  await w.choose(w.page.locator('#f-cam-lifter'), 'bucket');
  await w.press(w.button('Keep in the book'));
  await w.page.getByText(w.t('The engine is kept in the book.')).waitFor();
  check('a choice from a list is kept', await w.page.evaluate(() => fetch('/api/v1/engines/1').then((r) => r.json()).then((e) => e.typed.cam?.lifter)) === 'bucket');
  check('the engine is kept', true);
}

async function build(w) {
  await w.to('build', '.first form');
  const metals = await w.page.locator('datalist#begin-head option').evaluateAll((all) => all.map((o) => o.value));
  check('materials are offered from the list of the program', ['cast iron', 'aluminium'].every((one) => metals.includes(w.t(one))), metals);
  await w.type(w.label('Heads'), w.t('aluminium'));
  await w.press(w.button('Begin the record'));
  await w.page.getByRole('heading', { name: w.t('Measurements') }).waitFor({ timeout: 30000 });
  const form = w.page.locator('form.measure');
  const offered = (list, n) => w.page.locator(`datalist#${list} option`).nth(n).getAttribute('value');
  await w.type(form.locator('input').nth(0), await offered('items', 0)); /* of the template, in the shop's own words */
  await w.page.locator('datalist#places option').nth(2).waitFor({ state: 'attached' });
  await w.type(form.locator('input').nth(1), await offered('places', 2));
  await w.type(form.locator('input').nth(2), '0.055 mm, 0.056 mm');
  await w.breakAt('a reading', form.locator('input').nth(2), '0.055 mm, 0.056 mm');
  await w.press(form.getByRole('button').first());
  await w.page.locator('.measured-last').first().waitFor();
  check('a reading is in the build record', true);
  const hookUp = w.page.locator('details.item').filter({ has: w.page.locator('summary b', { hasText: /^(hook-up|Anschluss)$/ }) });
  await w.press(hookUp.locator('summary'));
  const open = hookUp.locator('li.open'), steps = await open.count();
  for (let left = steps; left > 0; left = await open.count()) {
    await w.press(open.first().getByRole('button').first());
    await w.page.waitForFunction((n) => [...document.querySelectorAll('details.item')].filter((d) => /^(hook-up|Anschluss)$/.test(d.querySelector('summary b')?.textContent ?? ''))[0].querySelectorAll('li.open').length < n, left, { timeout: 20000 });
  }
  check('the hook-up is ticked, step by step', steps > 3 && await open.count() === 0, steps);
  await picture(w.page, `day-${w.name}-build`);
}

async function begin(w, line) {
  await w.type(w.page.locator('input[list="sources"]').first(), line.source);
  await w.press(w.button('Begin recording'));
  await w.page.locator('.live-curve').waitFor({ timeout: 30000 });
}

async function session(w, line) {
  await w.to('live', '.heroes');
  await begin(w, line);
  const setup = w.page.locator('.live-setup'), any = setup.locator('form').first();
  await w.type(any.locator('input'), '28 deg');
  await w.press(any.getByRole('button'));
  await w.page.locator('.said-next').first().waitFor();
  const kept = async (n) => { await w.page.locator('.pull-card').waitFor({ timeout: 60000 }); await w.page.waitForFunction((k) => fetch('/api/v1/pulls?units=si').then((r) => r.json()).then((a) => a.pulls.length >= k), n, { timeout: 30000 }); };
  await sweep(line, 0);
  await kept(1);
  check('a pull is kept, and its card stands there', true);
  for (const [n, more] of [[2, 4], [3, 5]]) {
    const up = setup.getByRole('button', { name: w.t('{field}: one step up').replace('{field}', w.t('spark')) });
    await w.press(up); await w.page.waitForTimeout(300); await w.press(up);
    await w.page.locator('.said-next').first().waitFor();
    await sweep(line, more);
    await kept(n);
  }
  check('three set-ups, three pulls', true);
  if (w.broken) { /* between two pulls, with a mark half typed */
    const mark = w.page.locator('.live-actions input').first();
    await w.type(mark, 'a tick from the front');
    await w.kill();
    await w.page.locator('[data-alarm="connection lost"]').waitFor({ timeout: 20000 });
    await w.start();
    await w.button('Begin recording').waitFor({ timeout: 30000 });
    await begin(w, line);
    check('a mark: what was typed outlives the server', await mark.inputValue() === 'a tick from the front', await mark.inputValue());
    await w.type(mark, '');
    w.breaks++;
  }
  await sweep(line, 5.2); /* once more as it stands: without a repeat nobody knows what one pull is worth */
  await kept(4);
  await picture(w.page, `day-${w.name}-live`);
}

async function fault(w, line) {
  await sweep(line, 5, async (rpm) => { if (rpm > 4200) { line.set({ 'Coolant temperature [degC]': 118 }); return rpm > 4700; } return false; });
  const alarm = w.page.locator('[data-alarm="coolant very hot"]');
  await alarm.waitFor({ timeout: 20000 });
  check('the shut-down stands on the screen and in the title', /coolant very hot|!/.test(await w.page.title()), await w.page.title());
  line.set(IDLE);
  await w.page.waitForTimeout(3000);
  await w.press(w.page.locator('.live-actions .stop'));
  await w.page.waitForTimeout(400);
  if (await w.page.locator('.live-actions .stop.asks').count()) await w.press(w.page.locator('.live-actions .stop'));
  await w.button('Begin recording').waitFor({ timeout: 30000 });
  await picture(w.page, `day-${w.name}-alarm`);
  for (let n = await w.page.locator('.alarm-does button').count(), i = 0; i < 12 && n > 0; i++, n = await w.page.locator('.alarm-does button').count()) {
    await w.press(w.page.locator('.alarm-does button').last());
    await w.page.waitForTimeout(500);
  }
  await w.to('day', '.next-step');
  const trips = w.page.locator('.day .trips');
  await trips.waitFor();
  check('the day says stop and look', true);
  await picture(w.page, `day-${w.name}-stop`);
  for (let i = 0; i < 6 && await trips.locator('form').count(); i++) {
    const form = trips.locator('form').first(), n = await trips.locator('form').count();
    await w.type(form.locator('input').first(), 'a hose clamp, loose; tightened');
    if (i === 0) await w.breakAt('what was found', form.locator('input').first(), 'a hose clamp, loose; tightened');
    await w.press(form.getByRole('button'));
    await w.page.waitForFunction((was) => document.querySelectorAll('.day .trips form').length < was, n, { timeout: 20000 });
  }
  check('what was found is written down', await trips.count() === 0);
}

async function judge(w) {
  await w.to('pulls', '.list-side, .list-turn');
  const list = w.page.locator('.list-turn');
  await list.waitFor();
  if (await list.getAttribute('aria-expanded') === 'false') await w.press(list);
  const row = (id) => w.page.locator(`tr[data-row="${id}"]`);
  await row(1).waitFor();
  await w.press(row(1).locator('button.figure-link'));
  const deeds = w.page.locator('.pull-deeds');
  await w.press(deeds.locator('summary', { hasText: w.t('Amend it') }));
  const amend = deeds.locator('form').last();
  await w.type(amend.locator('input:not([list]), textarea').first(), '1010 hPa');
  await w.type(amend.locator('input:not([list]), textarea').last(), 'the barometer was read again');
  await w.breakAt('an amendment', amend.locator('input:not([list]), textarea').last(), 'the barometer was read again');
  await w.press(amend.locator('button[type=submit]'));
  await row(1).locator('.tag', { hasText: w.t('amended') }).waitFor({ timeout: 30000 });
  check('a pull is amended from its row', true);
  await w.press(row(2).locator('button.figure-link'));
  await w.press(deeds.locator('summary', { hasText: w.t('Discard it') }));
  await w.type(deeds.locator('form').first().locator('input, textarea').first(), 'a hose came off');
  await w.press(deeds.locator('form').first().locator('button[type=submit]'));
  await w.page.locator('tr.discarded[data-row="2"]').waitFor();
  await w.press(deeds.getByRole('button', { name: w.t('Let it count again') }));
  await w.page.locator('tr[data-row="2"]:not(.discarded)').waitFor();
  check('one is discarded, and counts again', true);
  for (const [id, side] of [[1, 'a'], [3, 'b']]) { const b = row(id).locator(`button.side.${side}`); if (await b.getAttribute('aria-pressed') !== 'true') await w.press(b); }
  await w.page.locator('.verdict-line').waitFor({ timeout: 30000 });
  await w.page.locator('.work .plot-box canvas').first().waitFor();
  await picture(w.page, `day-${w.name}-pulls`);
  await axe(w.page, `the day's pulls, ${w.name}`);
  await w.press(w.page.locator('.day-row button.side.a').first());
  await w.page.waitForFunction(() => /a=1,2,3,4/.test(location.hash));
  await w.press(w.page.locator('.views a[href*="view=sweep"]'));
  const answer = w.page.locator('.work .verdict-line, .work .said.grave').or(w.page.locator('.said-place .grave'));
  await answer.first().waitFor({ timeout: 30000 });
  await picture(w.page, `day-${w.name}-sweep`);
  check('the sweep of three sparks answers', await w.page.locator('.work .verdict-line').count() === 1 && /spark|Zünd/i.test(await w.page.locator('.work').innerText()), await w.page.locator('main').innerText().then((s) => s.slice(-500)));
}

/* A logger's file that says no units: how it was read is kept under the logger's name, and stands in Shop. */
async function profile(w) {
  await w.to('pulls', '.list-side, .list-turn');
  const rows = Array.from({ length: 460 }, (_v, i) => `${(i / 40).toFixed(3)},${(LOW + 300 * i / 40).toFixed(1)},${torqueAt(LOW + 300 * i / 40, 5).toFixed(2)}`);
  await w.file(w.page.locator('label.button', { has: w.page.locator('input[type="file"]') }).first(), { name: 'from the stick.csv', mimeType: 'text/csv', buffer: Buffer.from(['Time,Speed,Torque', ...rows].join('\n') + '\n') });
  const card = w.page.getByRole('region', { name: w.t('A new recorder') });
  await card.waitFor({ timeout: 30000 });
  await w.type(card.locator('input').first(), 'stick logger');
  await w.press(card.getByRole('button').first());
  await card.waitFor({ state: 'detached' });
  await w.to('shop', '.shop');
  await w.page.locator('.kept-list b', { hasText: 'stick logger' }).waitFor();
  check('a profile is made on the page, and stands in Shop', true);
  await picture(w.page, `day-${w.name}-shop`);
}

async function paper(w) {
  await w.to('day', '.next-step');
  const link = w.page.locator('.day .headline a[download]').first();
  await w.reach(link);
  const [got] = await Promise.all([w.page.waitForEvent('download', { timeout: 60000 }), w.press(link)]);
  check('the report is a PDF', readFileSync(await got.path(), 'latin1').startsWith('%PDF-'));
  await w.to('live', '.heroes');
  await w.press(w.page.locator('a[href="#/window"]'));
  await w.page.locator('.window h1').waitFor();
  check("the customer's window names the shop", (await w.page.locator('.window h1').innerText()) === 'Invented Engines');
  await picture(w.page, `day-${w.name}-window`);
}

/* Every pointer that went down, over all pages of the day. */
const countPointers = (page) => page.addInitScript(() => {
  addEventListener('pointerdown', (e) => { const all = JSON.parse(localStorage.getItem('pointers') ?? '{}'); all[e.pointerType] = (all[e.pointerType] ?? 0) + 1; localStorage.setItem('pointers', JSON.stringify(all)); }, true);
});

/** `name` of the way; `keys`: by keyboard alone; `broken`: see above; the rest is the browser's. */
export async function dayOfANewShop({ name, keys = false, broken = process.argv.includes('--broken'), ...browser }) {
  const book = join(folder, `new-shop-${name}.book`), line = await logger(50, IDLE);
  const page = await open(browser), w = new Way(page, { keys, touch: browser.hasTouch === true, broken });
  Object.assign(w, { name, book, server: await serve(book) });
  await countPointers(page);
  await page.goto(`${w.server.address}#/day`);
  for (const [says, part] of [['shop and engine', shopAndEngine], ['build', build], ['session', session], ['fault', fault], ['pulls', judge], ['profile', profile], ['paper', paper]]) {
    try { await part(w, line); } catch (problem) { await picture(page, `day-${name}-failed`); throw new Error(`${name}, ${says}: ${problem.message}`); }
  }
  const pulls = ask('pull', 'list', '--book', book).pulls;
  check('the book holds the day: four pulls, the one that tripped, and the file', pulls.length === 6 && pulls[0].reading === 2, pulls.map((p) => [p.id, p.changed, p.reading, p.tripped]));
  const pointers = await page.evaluate(() => JSON.parse(localStorage.getItem('pointers') ?? '{}')), kinds = Object.keys(pointers).join();
  check(`done ${keys ? 'by keys alone' : w.touch ? 'by fingers alone' : 'with a mouse'}`, kinds === (keys ? '' : w.touch ? 'touch' : 'mouse'), pointers);
  if (broken) check('the server was killed in the middle of five things', w.breaks === 5, w.breaks);
  const facts = ask('build', 'show', '--book', book);
  check('the build says what its heads are made of', JSON.stringify(facts).includes(w.t('aluminium')), JSON.stringify(facts).slice(0, 300));
  const told = (await (await page.request.get(`${w.server.address}api/v1/pulls?units=si`)).json()).pulls.map((p) => p.setup.spark);
  check('each with its set-up', told.slice(0, 4).join() === '28 deg,30 deg,32 deg,32 deg', told);
  check('and it is whole', ask('book', 'verify', '--book', book).whole === true);
  line.close();
  await page.context().close();
  await stopInOrder(w.server);
}
