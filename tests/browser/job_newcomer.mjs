// A newcomer's messy day of a US pushrod V8 in a real browser: files dropped on the page as the recorder wrote them, questions answered, facts
// put right in the page's own forms, to the printed report. No command, no file edited. Two things are told wrongly: the absorber's inertia ten times
// too large, and no barometer after lunch. Day and truth: tests/newcomer/make_day.py, made by textbook forms and none of the program's code.
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { ask, axe, check, folder, open, picture, run, serve, stopInOrder } from './harness.mjs';

const HP = 745.69987158227022, LB_FT = 1.3558179483314004;
const EVENING = Date.parse('2026-12-01T02:00:00Z'); /* the stick was copied then; the files' own clocks say when they ran */

export default async function newcomer() {
  const stick = join(folder, 'stick'), book = join(folder, 'newcomer.book');
  const make = join(dirname(fileURLToPath(import.meta.url)), '..', 'newcomer', 'make_day.py');
  const truth = JSON.parse(execFileSync('python3', [make, stick], { encoding: 'utf8', maxBuffer: 1 << 24 })).us;
  const server = await serve(book), page = await open();
  const pulls = () => ask('pull', 'list', '--book', book).pulls;

  const to = async (where, ready) => { await page.goto(`${server.address}#/${where}`); await page.locator(ready).first().waitFor({ timeout: 60000 }); };
  async function drop(...names) {
    const files = names.map((name) => ({ name, data: readFileSync(join(stick, 'us', name)).toString('base64') }));
    const had = pulls().length;
    const carried = await page.evaluateHandle(({ files, at }) => {
      const d = new DataTransfer();
      for (const f of files) d.items.add(new File([Uint8Array.from(atob(f.data), (c) => c.charCodeAt(0))], f.name, { lastModified: at }));
      return d;
    }, { files, at: EVENING });
    for (const kind of ['dragenter', 'dragover', 'drop']) await page.dispatchEvent('body', kind, { dataTransfer: carried });
    for (let i = 0; i < 300 && pulls().length === had; i++) await page.waitForTimeout(200);
    await page.waitForFunction(() => !/Reading .*…/.test(document.body.innerText), null, { timeout: 60000 });
  }
  /* One pull alone on the screen, its form open. */
  async function at(number) {
    await page.goto(`${server.address}#/pulls?a=${number}`);
    await page.locator('summary', { hasText: 'Amend it' }).first().waitFor({ timeout: 60000 });
    await page.waitForFunction((n) => location.hash.includes(`a=${n}`) && document.body.innerText.includes(`${n}`), number);
  }
  async function amend(number, facts, reason) {
    const before = ask('pull', 'history', String(number), '--book', book).reading;
    await at(number);
    const form = page.locator('details:has(> summary:text("Amend it"))').first();
    // the pull of before stands there until this one's curve has come
    for (let i = 0, seen = 0; i < 50 && seen < 3; i++, seen = await form.evaluate((d) => d.open) ? seen + 1 : 0) {
      if (!(await form.evaluate((d) => d.open))) await form.locator('summary').click();
      await page.waitForTimeout(300);
    }
    for (const [i, [kind, name, value]] of facts.entries()) {
      if (i) await form.getByRole('button', { name: 'One more fact' }).click();
      await form.getByLabel('What was wrong').selectOption(kind);
      if (name) await form.getByLabel('Which').fill(name);
      await form.getByLabel('How it is').fill(value);
    }
    await form.getByLabel('Reason').fill(reason);
    await form.getByRole('button', { name: 'Amend', exact: true }).click();
    for (let i = 0; i < 150 && ask('pull', 'history', String(number), '--book', book).reading === before; i++) await page.waitForTimeout(200);
    check(`pull ${number}: ${facts.map((f) => f.join(' ')).join(', ')}`, ask('pull', 'history', String(number), '--book', book).reading === before + 1);
  }

  /* the shop, its cell, its engine */
  await to('shop', '.shop');
  const sheets = page.locator('form', { has: page.getByLabel('Name of the shop') });
  await sheets.getByLabel('Name of the shop').fill('Cedar Hollow Engines');
  await sheets.getByLabel('Units').selectOption('us');
  await sheets.getByLabel('Paper').selectOption('letter');
  await sheets.getByRole('button', { name: 'Keep' }).click();
  await page.getByText('Settings are kept.').waitFor();
  const cell = page.locator('form', { has: page.getByLabel('Inertia of the rotor') });
  for (const [label, text] of [['Name of the cell', 'cell 1'], ['Inertia of the rotor', '2.4 kg·m2'], ['Torque arm', '18 in'], ['Time zone', 'America/Los_Angeles']]) await cell.getByLabel(label).fill(text);
  await cell.getByRole('button', { name: 'Keep' }).click();
  await page.getByText('it holds for pulls to come').first().waitFor();
  await to('engine', '.engine');
  for (const [field, text] of [['name', 'pushrod 372'], ['cylinders', '8'], ['bore', '4.065 in'], ['stroke', '3.587 in'], ['agreed_limit', '6300 rpm']]) await page.locator(`.fields input[id$="-${field}"]`).first().fill(text);
  await page.getByRole('button', { name: 'Keep in the book' }).click();
  await page.getByText('The engine is kept in the book.').waitFor();

  /* the morning */
  await to('pulls', 'main');
  await drop('LOG0411.CSV');
  check('one pull, and it is held', pulls().length === 1 && pulls()[0].held, pulls());
  await at(1);
  const asked = await page.locator('.mind', { hasText: 'Held, and used by nothing' }).first().innerText();
  check('what is asked is readable', /names no units|spins rotor/.test(asked), asked);
  await picture(page, 'newcomer-held');
  await axe(page, 'a held pull of a newcomer');
  await page.getByLabel('It is right, because').first().fill('all US');
  await page.getByRole('button', { name: 'Right as it is' }).first().click();
  await page.locator('.mind', { hasText: 'Held, and used by nothing' }).first().waitFor({ state: 'detached', timeout: 30000 });
  check('it ran when its own clock says', ask('pull', 'list', '--book', book).pulls[0].at.startsWith('2026-11-30T17:12'), pulls()[0].at);
  await amend(1, [['set', 'spark', '30 deg'], ['purpose', '', 'heat']], 'it was for heat');
  await drop('LOG0412.CSV', 'LOG0413.CSV');
  check('two files, three pulls', pulls().length === 4, pulls().map((p) => p.id));
  await drop('LOG0414.CSV', 'LOG0415.CSV');
  await amend(5, [['set', 'spark', '34 deg'], ['changed', '', 'four degrees more']], 'from the notebook');
  await amend(6, [['set', 'spark', '34 deg']], 'from the notebook');

  /* after lunch, without a barometer; looked through, the book says what it lacks and leads to the form */
  await drop('LOG0416.CSV');
  for (const pull of pulls().filter((p) => p.held && p.id === 7)) {
    await at(pull.id);
    await page.getByLabel('It is right, because').first().fill('all US');
    await page.getByRole('button', { name: 'Right as it is' }).first().click();
    await page.locator('.mind', { hasText: 'Held, and used by nothing' }).first().waitFor({ state: 'detached', timeout: 30000 });
  }
  await to('shop', '.shop');
  await page.getByRole('button', { name: 'Look through it' }).click();
  await page.locator('.findings li').first().waitFor({ timeout: 120000 });
  await picture(page, 'newcomer-looked-through');
  check('what looks wrong has the pull without weather', (await page.locator('.findings li').allInnerTexts()).some((line) => /Pull 7/.test(line)), await page.locator('.findings li').allInnerTexts());
  await amend(7, [['set', 'pressure', `${truth.noon.baro_inhg.toFixed(2)} inHg`], ['set', 'humidity', '41 %'], ['set', 'spark', '34 deg']], 'read off the wall');

  /* the plate is read at last: the cell's record, for all pulls that used it */
  await to('shop', '.shop');
  await page.locator('summary', { hasText: 'A figure was wrong for pulls that were run' }).click();
  const wrong = page.locator('details', { hasText: 'A figure was wrong for pulls that were run' });
  await wrong.getByLabel('Which figure').selectOption('rotor_inertia');
  await wrong.getByLabel('How it is').fill('0.24 kg·m2');
  await wrong.getByLabel('Why it was wrong').fill("the maker's plate");
  await wrong.getByRole('button', { name: 'List the pulls' }).click();
  await wrong.getByRole('button', { name: 'Amend 7 pulls' }).waitFor({ timeout: 60000 });
  check('it lists first and changes nothing', (await wrong.locator('.findings li').count()) === 7 && pulls().every((p) => p.reading < 4), pulls().map((p) => p.reading));
  await picture(page, 'newcomer-cell-amend');
  await axe(page, "the cell's record amended");
  const before = pulls().map((p) => p.band_mean_torque_n_m);
  await wrong.getByRole('button', { name: 'Amend 7 pulls' }).click();
  await page.getByText('7 pulls were amended').first().waitFor({ timeout: 120000 });
  check('each is computed again', pulls().every((p, i) => p.band_mean_torque_n_m < before[i]), [before, pulls().map((p) => p.band_mean_torque_n_m)]);
  check('nothing waits any more', pulls().every((p) => !p.held), pulls().map((p) => p.held));

  /* the question, and the paper */
  await page.goto(`${server.address}#/pulls?a=2,3,4&b=5,6,7`);
  const line = page.locator('.verdict-line').first();
  await line.waitFor({ timeout: 60000 });
  await page.waitForFunction(() => /gain/i.test(document.querySelector('.verdict-line')?.textContent ?? ''), null, { timeout: 30000 }).catch(() => {});
  const gain = 100 * (truth.best.torque_n_m / truth.base.torque_n_m - 1), said = await line.innerText();
  check(`the answer is a gain (truth ${gain.toFixed(2)} %)`, /gain/i.test(said), said);
  await picture(page, 'newcomer-answer');
  await page.goto(`${server.address}#/pulls?a=5,6,7`);
  const link = page.getByRole('link', { name: 'Report of these (PDF)' }).first();
  await link.waitFor({ timeout: 60000 });
  const [got] = await Promise.all([page.waitForEvent('download', { timeout: 60000 }), link.click()]);
  const text = execFileSync('pdftotext', ['-layout', await got.path(), '-'], { encoding: 'utf8' });
  for (const [word, unit, true_] of [['power', 'hp', truth.best.power_w / HP], ['torque', 'lb-ft', truth.best.torque_n_m / LB_FT]]) {
    const found = text.match(new RegExp(`Highest ${word} ([\\d.,]+) ± ([\\d.,]+) ${unit}`));
    const [value, doubt] = found ? [found[1], found[2]].map((f) => Number(f.replaceAll(',', ''))) : [NaN, NaN];
    check(`${word}: the true ${true_.toFixed(1)} lies within ${value} ± ${doubt}`, Math.abs(value - true_) <= doubt && Math.abs(value / true_ - 1) < 0.012, found?.[0] ?? text.slice(0, 900));
  }
  check('no other units on it', !/N·m|\bkW\b|°C|\blitres?\b/.test(text.replace(/25 °C, 99|kPa dry/g, '')), text.match(/.{20}(N·m|\bkW\b|°C).{10}/)?.[0]);
  check('all of it from raw again', /whole|fine|sound|good/i.test(run('book', 'verify', '--book', book)) || ask('book', 'verify', '--book', book).whole === true);
  await page.close();
  await stopInOrder(server);
}
