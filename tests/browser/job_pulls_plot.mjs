// The plot of Pulls: two pulls and their difference, told with units and ±; closer by wheel, box, two fingers, elsewhere by a drag, all by a
// double tap; lines hidden and told apart; a second number; samples; the address that holds it all; a drawing; 3,000 pulls; files that wait.
// Outside: the server's own figures (curves), SVG 1.1 as the browser's XML parser reads it, WCAG 2.2 AA by axe-core.
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { axe, check, demoDay, folder, open, picture, serve, stopInOrder } from './harness.mjs';

const plain = (text) => text.replaceAll('\u2212', '-').replaceAll('\u202f', ' ').replaceAll('\u2009', ' ');
const hash = (page) => page.evaluate(() => location.hash);
const query = async (page) => new URLSearchParams((await hash(page)).split('?')[1]);
const plots = (page) => page.locator('.work .plot-box');
const readout = async (page, i = 0) => plain(await page.locator('.readout').nth(i).innerText());
const still = (page) => page.waitForTimeout(700);
const span = async (page) => { await still(page); const x = (await query(page)).get('x'); return x ? x.split(',').map(Number) : null; };
/* Where it stands, once it stands still. */
async function boxOf(page, i = 0) {
  let was = null;
  for (let n = 0; n < 40; n++) {
    const now = await page.locator('.work .u-over').nth(i).boundingBox().catch(() => null);
    if (now && was && now.y === was.y && now.height === was.height) return now;
    was = now;
    await page.waitForTimeout(150);
  }
  throw new Error('the plot does not stand still');
}
async function at(page, address, two = true) {
  await page.goto('about:blank');
  await page.goto(address);
  await plots(page).nth(two ? 1 : 0).locator('canvas').waitFor();
  await still(page); /* the verdict moves the plot, which is drawn anew for its room */
}

async function difference(page, server) {
  await at(page, `${server.address}#/pulls?a=17&b=18`);
  const box = await boxOf(page), below = await boxOf(page, 1);
  check('the difference stands on the same x axis', Math.abs(box.x - below.x) < 1 && Math.abs(box.width - below.width) < 2, [box, below]);
  check('both in one window of 1440 x 900', below.y + below.height < 900, below);
  await page.mouse.move(box.x + box.width * 0.6, box.y + box.height * 0.4);
  const told = await readout(page), [, rpm, va, ha, vb, hb, d, hd] = /^([\d,]+) rpm: A 17 ([\d.]+) ± ([\d.]+) N·m, B 18 ([\d.]+) ± ([\d.]+) N·m Δ ([+-][\d.]+) ± ([\d.]+\d)/.exec(told) ?? [];
  const curves = (await (await page.request.get(`${server.address}api/v1/curves?pulls=17,18&raw=no`)).json()).curves, speed = Number(rpm?.replace(',', ''));
  const of = (p, key) => p.curve[key][p.curve.speed_rpm.indexOf(speed)], [a, b] = curves;
  check('one look tells both with unit and ±', Math.abs(of(a, 'torque_n_m') - va) < 0.06 && Math.abs(of(b, 'torque_n_m') - vb) < 0.06 && Math.abs(of(a, 'torque_comparative_n_m') - ha) < 0.06 && Math.abs(of(b, 'torque_comparative_n_m') - hb) < 0.06, told);
  check('and their difference with its own', Math.abs(of(b, 'torque_n_m') - of(a, 'torque_n_m') - d) < 0.06 && Math.abs(Math.hypot(of(a, 'torque_comparative_n_m'), of(b, 'torque_comparative_n_m')) - hd) < 0.06, [told, of(a, 'torque_n_m'), of(b, 'torque_n_m'), of(a, 'torque_comparative_n_m'), of(b, 'torque_comparative_n_m'), d, hd]);
  check('the plot below tells the same speed', /rpm: B - A [+-]?[\d.]+ ± [\d.]+ %/.test(await readout(page, 1)), await readout(page, 1));
  await picture(page, 'pulls-two');
  await axe(page, 'two pulls');
}

async function closer(page, server) {
  await at(page, `${server.address}#/pulls?a=17&b=18`);
  const box = await boxOf(page), x = (s) => box.x + s * box.width, y = (s) => box.y + s * box.height;
  check('at first all is seen', await span(page) === null);
  await page.mouse.move(x(0.5), y(0.5));
  await page.mouse.wheel(0, -300);
  const first = await span(page);
  check('the wheel looks closer', first && first[1] - first[0] < 4000, first);
  await page.keyboard.down('Shift');
  await page.mouse.down(); await page.mouse.move(x(0.3), y(0.5), { steps: 4 }); await page.mouse.up();
  await page.keyboard.up('Shift');
  const moved = await span(page);
  check('Shift and a drag look elsewhere, as wide', moved && moved[0] > first[0] && Math.abs((moved[1] - moved[0]) - (first[1] - first[0])) < 2, [first, moved]);
  check('which asks for no figure', await page.locator('.explain').count() === 0);
  await page.mouse.dblclick(x(0.5), y(0.5));
  check('a double click shows all', await span(page) === null);
  await page.mouse.move(x(0.2), y(0.2)); await page.mouse.down(); await page.mouse.move(x(0.6), y(0.75), { steps: 5 }); await page.mouse.up();
  await still(page);
  const q = await query(page);
  check('a tall box takes speeds and figures', q.get('x') && /,si$/.test(q.get('y') ?? ''), await hash(page));
  await page.reload();
  await plots(page).first().locator('canvas').waitFor();
  check('the address holds it', (await query(page)).get('y') === q.get('y'));
  const there = await open();
  await there.goto(`${server.address}${await hash(page)}`);
  await plots(there).first().locator('canvas').waitFor();
  await still(there);
  check('and shows the same to whom it is sent', (await query(there)).get('x') === q.get('x') && (await query(there)).get('y') === q.get('y'), await hash(there));
  await there.getByRole('button', { name: 'US' }).click();
  await still(there);
  await there.waitForFunction(() => !/[?&]y=/.test(location.hash)); /* figures of SI say nothing in US units; the speeds stay */
  check('a range in other units is none', (await query(there)).get('x') === q.get('x'));
  await there.context().close();
  await page.mouse.wheel(0, 4000);
  for (let i = 0; i < 12; i++) { await page.mouse.move(x(0.5), y(0.5)); await page.mouse.wheel(0, 400); }
  check('zooming out ends at all of it', await span(page) === null, await hash(page));
  await page.locator('.range summary').click();
  await page.getByLabel('speed from, rpm').fill('5000'); await page.getByLabel('speed to, rpm').fill('6000');
  await page.getByRole('button', { name: 'Show', exact: true }).click();
  check('a range can be typed', (await span(page))?.join() === '5000,6000', await hash(page));
  await page.getByLabel('speed to, rpm').fill('4000');
  await page.getByRole('button', { name: 'Show', exact: true }).click();
  check('one that is none is said, beside its fields', /lower first/.test(await page.locator('.range .problem').innerText()) && (await span(page))?.join() === '5000,6000');
  await page.getByRole('button', { name: 'All of it' }).click();
  check('and let go', await span(page) === null);
}

async function fingers(server) {
  const page = await open({ viewport: { width: 820, height: 1180 }, hasTouch: true });
  await at(page, `${server.address}#/pulls?a=17&b=18`);
  const session = await page.context().newCDPSession(page), box = await boxOf(page), y = box.y + box.height / 2;
  const touch = (type, ...xs) => session.send('Input.dispatchTouchEvent', { type, touchPoints: xs.map((s, id) => ({ x: box.x + s * box.width, y, id })) });
  await touch('touchStart', 0.45, 0.55);
  for (const d of [0.1, 0.15, 0.2, 0.25]) await touch('touchMove', 0.5 - d, 0.5 + d);
  await touch('touchEnd');
  const pinched = await span(page);
  check('two fingers look closer', pinched && pinched[1] - pinched[0] < 2500, pinched);
  await touch('touchStart', 0.7);
  for (const s of [0.6, 0.5, 0.4]) await touch('touchMove', s);
  await touch('touchEnd');
  const moved = await span(page);
  check('one finger then looks elsewhere', moved && pinched && moved[0] > pinched[0] + 100, [pinched, moved]);
  for (let i = 0; i < 2; i++) { await touch('touchStart', 0.5); await touch('touchEnd'); }
  check('a double tap shows all', await span(page) === null, await hash(page));
  check('it fits a tablet', await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await picture(page, 'pulls-tablet');
  await axe(page, 'two pulls on a tablet');
  await page.context().close();
}

async function lines(page, server) {
  await at(page, `${server.address}#/pulls?a=11,12,13,14&b=20,21,22,23`, false);
  await page.locator('.legend-line').nth(7).waitFor();
  const told = await page.locator('.legend-line svg').evaluateAll((all) => all.map((s) => [...s.querySelectorAll('path')].map((p) => (p.getAttribute('stroke-dasharray') ?? '') + '|' + (p.getAttribute('class') ?? '') + '|' + (p.getAttribute('class') ? p.getAttribute('d') : '')).join()));
  check('eight lines are told apart without their colour', new Set(told).size === 8, told);
  const dashes = await page.locator('.legend-line svg').evaluateAll((all) => all.map((s) => s.querySelector('path').getAttribute('stroke-dasharray') ?? 'whole'));
  check('by their dash alone, too', new Set(dashes).size === 8, dashes);
  await page.getByRole('button', { name: /A 12/ }).click();
  await page.waitForFunction(() => !/A 12/.test(document.querySelector('.work .plot-box').dataset.lines));
  check('a line that is touched goes, and the address says so', (await query(page)).get('hide') === '12');
  await page.getByRole('button', { name: 'Show every line' }).click();
  await page.waitForFunction(() => /A 12/.test(document.querySelector('.work .plot-box').dataset.lines));
  await page.emulateMedia({ reducedMotion: 'reduce', forcedColors: 'none' });
  await picture(page, 'pulls-eight');
  await axe(page, 'eight lines');
  await at(page, `${server.address}#/pulls?a=17&b=18&also=lambda&samples=1`);
  check('a second number has its own axis', /lambda/.test(await plots(page).first().getAttribute('data-lines')));
  const box = await boxOf(page), below = await boxOf(page, 1);
  check('and the difference still ends where the curves do', Math.abs(box.width - below.width) < 3, [box.width, below.width]);
  await page.getByLabel('Smoothed').uncheck();
  await page.waitForFunction(() => !/A 17,B|A 17$/.test(document.querySelector('.work .plot-box').dataset.lines));
  check('samples can stand alone', (await query(page)).get('curve') === '0');
  await page.getByLabel('Samples').uncheck();
  await still(page);
  check('but one of both is always seen', await page.getByLabel('Smoothed').isChecked());
  await page.locator('.plot-tools select').first().selectOption('lambda');
  await page.locator('figcaption', { hasText: 'B − A: ' }).waitFor();
  check('another number has its difference in its own unit', true);
  await at(page, `${server.address}#/pulls?a=abc,-1,17&b=18&x=9,1&y=NaN,2,si&hide=x&show=nothing&pin=q`, false).catch(() => {});
  check('an address that says nonsense shows what it can', await page.locator('.work').count() === 1 && await page.locator('.said.grave').count() === 0, await page.locator('main').innerText().then((s) => s.slice(0, 200)));
}

async function drawing(page, server) {
  await at(page, `${server.address}#/pulls?a=17&b=18`);
  const [got] = await Promise.all([page.waitForEvent('download'), page.locator('.take').first().getByRole('button', { name: 'SVG' }).click()]);
  const svg = readFileSync(await got.path(), 'utf8');
  const found = await page.evaluate((text) => {
    const doc = new DOMParser().parseFromString(text, 'image/svg+xml');
    return { wrong: doc.querySelector('parsererror') !== null, names: [...doc.querySelectorAll('text')].map((n) => n.textContent), nan: /NaN|Infinity|undefined/.test(text) };
  }, svg);
  check('a drawing is SVG', !found.wrong && !found.nan, svg.slice(0, 300));
  check('with its names, axes and unit', ['A 17', 'B 18', 'rpm', 'N·m', 'corrected torque, N·m'].every((n) => found.names.includes(n)), found.names);
}

/* The list and what it costs with thousands; the pulls are copies that only this page is told of. */
async function thousands(page, server) {
  await page.route('**/api/v1/pulls?*', async (route) => {
    const answer = await route.fetch(), json = await answer.json(), one = json.pulls;
    json.pulls = Array.from({ length: 3000 }, (_x, i) => i < one.length ? one[i] : { ...one[i % one.length], id: 1000 + i, day: `2026-0${1 + Math.floor(i / 400)}-1${i % 9}`, discarded: i % 50 === 0 ? 'a copy' : null });
    await route.fulfill({ response: answer, json });
  });
  const began = Date.now();
  await at(page, `${server.address}#/pulls?a=17`, false);
  console.log(`list of 3,000 pulls: ${Date.now() - began} ms to the plot`);
  const list = page.locator('.list-side'), rows = () => list.locator('tbody tr[data-row]').count();
  check('of 3,000 pulls those in sight are drawn', await rows() < 120 && await list.locator('table').getAttribute('data-pulls') === '3000', await rows());
  await list.getByRole('button', { name: /Pull \d+ before/ }).first().focus();
  await page.keyboard.press('End');
  await page.waitForTimeout(300);
  check('End goes to the last of them', await page.evaluate(() => document.activeElement?.closest('tr')?.dataset.row) === '1', await page.evaluate(() => document.activeElement?.outerHTML.slice(0, 120)));
  for (let i = 0; i < 40; i++) await page.keyboard.press('ArrowUp');
  const heights = await list.locator('tbody tr:not(.unseen-rows)').evaluateAll((all) => [...new Set(all.map((r) => Math.round(r.offsetHeight)))]);
  check('every row is as high as every other', heights.length === 1, heights);
  check('arrows go on beyond what was drawn', await page.evaluate(() => document.activeElement?.closest('tr') !== null && document.activeElement?.classList.contains('side')));
  await list.locator('.filter summary').click();
  await list.locator('.filter select').nth(-2).selectOption('discarded');
  const shownOf = async () => Number(await list.locator('table').getAttribute('data-pulls'));
  check('by state', await shownOf() < 100 && await shownOf() > 10, await shownOf());
  await list.locator('.filter select').nth(-2).selectOption('all');
  await list.getByLabel('From').fill('2026-06-12'); await list.getByLabel('To', { exact: true }).fill('2026-06-12');
  check('by day', await shownOf() > 0 && await shownOf() < 200, await shownOf());
  await list.getByRole('button', { name: 'All again' }).click();
  await list.locator('.filter select').last().selectOption('torque');
  const torques = (await list.locator('tbody tr[data-row] td:nth-child(5)').allInnerTexts()).map(Number);
  check('in order of torque', torques.length > 10 && torques.every((v, i) => i === 0 || v <= torques[i - 1]), torques.slice(0, 8));
  await list.locator('.filter select').last().selectOption('newest');
  await axe(page, 'a list of thousands, narrowed');
  await page.unroute('**/api/v1/pulls?*');
}

async function fromTheRow(page, server) {
  await at(page, `${server.address}#/pulls?a=17`, false);
  await page.getByRole('button', { name: 'Pull 17: amend, discard, history' }).click();
  const deeds = page.locator('.pull-deeds');
  await deeds.getByText('Discard it').click();
  await deeds.getByLabel('Reason').first().fill('a probe');
  await deeds.getByRole('button', { name: 'Discard', exact: true }).click();
  await page.locator('tr.discarded[data-row="17"]').waitFor();
  check('a pull is discarded from its row', true);
  await deeds.getByRole('button', { name: 'Let it count again' }).click();
  await page.locator('tr[data-row="17"]:not(.discarded)').waitFor();
  check('and counts again', true);
  await deeds.getByText('Amend it').waitFor(); /* it comes with what is loaded later */
  check('it can be amended there', await deeds.getByText('Amend it').count() === 1);
  await axe(page, 'a pull opened in the list');
}

async function filesThatWait(page, server) {
  const good = [1, 2, 3].map((n) => { const name = join(folder, `wait-${n}.csv`); writeFileSync(name, `Time [s],Speed [rpm],Torque [N.m]\n` + Array.from({ length: 60 }, (_x, i) => `${(i * 0.1).toFixed(1)},${2500 + i * 70},${(200 + n + 20 * Math.sin(i / 20)).toFixed(2)}`).join('\n') + '\n'); return name; });
  const bad = join(folder, 'wait-bad.csv');
  writeFileSync(bad, Buffer.from([0, 1, 2, 3, 255, 254]));
  await page.goto(`${server.address}#/pulls?a=17`);
  const input = page.locator('.list-side input[type=file]');
  let slow = true;
  await page.route('**/api/v1/recordings?*', async (route) => { if (slow) await new Promise((r) => setTimeout(r, 700)); await route.continue(); });
  await input.setInputFiles([good[0], bad]);
  await input.setInputFiles([good[1], good[2]]);
  await page.getByText(/of 4…/).waitFor();
  check('files chosen while others are read wait their turn', true);
  slow = false;
  await page.locator('.answers summary').waitFor({ timeout: 30000 });
  await page.locator('.answers summary').click();
  const told = await page.locator('.answers li').allInnerTexts();
  check('each has its own answer', told.length === 4 && told.filter((s) => s.startsWith('wait-')).length === 4 && /wait-bad/.test(await page.locator('.answers li.grave').innerText()), told);
  await axe(page, 'each file’s answer');
  await page.unroute('**/api/v1/recordings?*');
}

export default async function pullsPlot() {
  const server = await serve(demoDay().book);
  const page = await open({ viewport: { width: 1440, height: 900 } });
  await difference(page, server);
  await closer(page, server);
  await lines(page, server);
  await drawing(page, server);
  await fingers(server);
  await fromTheRow(page, server);
  await thousands(page, server);
  await filesThatWait(page, server);
  await page.context().close();
  await stopInOrder(server);
}
