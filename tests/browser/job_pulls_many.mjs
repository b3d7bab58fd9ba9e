// Many pulls at once: a day taken in one go, lines told apart and chosen by keyboard, figures of the table that lead to
// their origin, the cursor shared by the curve and the channels under it.
import { ask, axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

const plain = (text) => text.replaceAll('\u2212', '-').replaceAll('\u202f', ' ').replaceAll('\u2009', ' ');

async function aDay(page, server) {
  await page.goto(`${server.address}#/pulls?a=11`);
  await page.getByRole('button', { name: /All that count on 2026-06-12, \d+: before/ }).click();
  await page.getByText('The same in all').waitFor();
  const rows = await page.locator('.by-row tbody tr').count();
  check('a day is taken in one go, without what was discarded', rows === 33 && !/[=,]32[,&]/.test(await page.evaluate(() => location.hash)), rows);
  check('what is the same in all is said once', plain(await page.locator('.work').innerText()).includes('SAE J1349'));
  await axe(page, 'a day of pulls');
  await picture(page, 'pulls-day-light');
  await page.getByRole('button', { name: 'Only the last' }).click();
  await page.waitForFunction(() => location.hash === '#/pulls?a=35');
  check('and let go in one go', true);
}

async function byKeyboard(page, server) {
  await page.goto(`${server.address}#/pulls?a=11,12,13,14,15,16,17,18,19`);
  const plot = page.locator('.plot-box').first();
  await page.waitForFunction(() => document.querySelectorAll('.by-row tbody tr').length === 9);
  await plot.focus();
  for (const key of ['Home', 'ArrowRight', 'ArrowRight', 'ArrowDown', 'ArrowDown']) await page.keyboard.press(key);
  const told = plain(await page.locator('.readout').first().innerText());
  check('the chosen line is told beside the range of all', /rpm: A \d+ [\d.]+ ± [\d.]+ N·m; 9 lines, [\d.]+ to [\d.]+/.test(told), told);
  const pull = Number(/A (\d+) /.exec(told)?.[1]);
  await page.keyboard.press('Enter');
  await page.locator('.explain h3').waitFor();
  check('Enter walks back the figure of the chosen line', (await page.locator('.explain h3').innerText()).startsWith(`Pull ${pull} at`), pull);
  await plot.focus();
  await page.keyboard.press('Escape');
  check('Escape lets go of it', /rpm: 9 lines/.test(plain(await page.locator('.readout').first().innerText())));
  const list = page.locator('.list-side');
  await list.getByRole('button', { name: 'Pull 20 before' }).focus();
  for (const key of ['ArrowUp', 'ArrowRight', 'Enter']) await page.keyboard.press(key);
  await page.waitForFunction(() => /b=21/.test(location.hash));
  check('arrows go through the list and Enter takes a pull', true);
}

async function origins(page, server, book) {
  await page.goto(`${server.address}#/pulls?a=17,19&b=25`);
  const cell = (row, column) => page.locator('.compare-table tr', { has: page.getByRole('rowheader', { name: row, exact: true }) }).locator('td').nth(column).locator('.figure-link');
  const explained = async (row, column) => {
    await cell(row, column).click();
    await page.waitForTimeout(50);
    await page.locator('.explain h3').waitFor();
    return plain(await page.locator('.explain').innerText());
  };
  await cell('Factor', 0).waitFor();
  const factor = await explained('Factor', 2);
  const peer = ask('pull', 'explain', '25', '--speed', '6000 rpm', '--book', book);
  check('the factor leads to its pressure and standard', factor.startsWith('Pull 25: factor') && factor.includes('SAE J1349') && factor.includes('Baro') && factor.includes(peer.factor.toFixed(5)), [factor.slice(0, 400), peer.factor]);
  check('and to the file', factor.includes(peer.recording) && factor.includes(peer.sha256.slice(0, 16)));
  await axe(page, 'where a factor comes from');
  await picture(page, 'pulls-origin-light');
  await page.waitForFunction(() => true);
  check('the mean leads to its band', /65 % to 100 % of the top speed/.test(await explained('Mean torque', 0)));
  check('the oil leads to its column', /Oil temp/.test(await explained('Oil', 0)));
  check('the set-up leads to the pull it was said with', /pull 25, run-26\.csv/.test(await explained('spark', 2)));
  check('carried figures say since when', /pull 6, run-07\.csv.*mixture from 0\.84 to 0\.88/s.test(await explained('lambda', 2)));
  check('what cleaning touched is told by column', /Torque/.test(await explained('Cleaned', 0)));
  check('the highest power leads to samples', /Samples\s+\d+ that count/.test(await explained('Highest power', 1)));
}

async function sharedCursor(page, server) {
  await page.goto(`${server.address}#/pulls?a=12&view=channels`);
  await page.locator('.plot-box canvas').nth(4).waitFor();
  const readout = async (i) => plain(await page.locator('.readout').nth(i).innerText());
  const figures = (text) => text.match(/[\d,.]+/g).map((f) => Number(f.replaceAll(',', '')));
  await page.locator('.plot-box').nth(0).focus();
  for (const key of ['Home', 'ArrowRight', 'ArrowRight', 'ArrowRight']) await page.keyboard.press(key);
  await page.waitForFunction(() => document.querySelectorAll('.readout')[1].textContent !== '');
  const [rpm] = figures(await readout(0)), [, speed] = figures(await readout(1));
  check('a place on the curve marks its time in the channels', Math.abs(rpm - speed) < 30, [await readout(0), await readout(1)]);
  const [at] = figures(await readout(1)), [at2] = figures(await readout(2));
  check('all channels stand at that time', Math.abs(at - at2) < 0.06, [at, at2]);
  await page.locator('.plot-box').nth(1).focus();
  for (let i = 0; i < 20; i++) await page.keyboard.press('Shift+ArrowRight');
  const [rpm2] = figures(await readout(0)), [, speed2] = figures(await readout(1));
  check('a place in time marks its speed on the curve', rpm2 > rpm && Math.abs(rpm2 - speed2) <= 51, [await readout(0), await readout(1)]);
}

async function theirOwnSweep(page, server) {
  await page.goto(`${server.address}#/pulls?a=26,27,28,29,30,31&view=sweep`);
  await page.locator('.verdict-line').waitFor();
  check('chosen pulls that moved the mixture are a mixture sweep', plain(await page.locator('.verdict-line').innerText()).startsWith('Best lambda'));
  check('of just those pulls', await page.getByLabel('Pulls', { exact: true }).last().inputValue() === '26, 27, 28, 29, 30, 31');
  await page.goto(`${server.address}#/pulls?a=12&view=method`);
  await page.getByText('Highest torque').waitFor();
  await page.getByLabel('half width').fill('5 psi');
  await page.locator('.said.grave').waitFor();
  check('what cannot be computed leaves no old figure on the screen', await page.getByText('Highest torque').count() === 0);
}

export default async function pullsMany() {
  const book = demoDay().book;
  const server = await serve(book);
  const page = await open();
  await aDay(page, server);
  await byKeyboard(page, server);
  await origins(page, server, book);
  await sharedCursor(page, server);
  await theirOwnSweep(page, server);
  for (const [scheme, width] of [['dark', 1440], ['light', 390], ['light', 360]]) {
    const other = await open({ colorScheme: scheme, viewport: { width, height: 900 } });
    await other.goto(`${server.address}#/pulls?a=11,12,13,14,15,16,17&b=24,25,26,27,28`);
    await other.locator('.by-row').waitFor();
    await axe(other, `many pulls, ${scheme}, ${width} px`);
    check(`many pulls fit ${width} px`, await other.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
    if (width === 1440) await picture(other, 'pulls-many-dark');
    await other.context().close();
  }
  await page.close();
  await stopInOrder(server);
}
