// The load cell calibrated on the page: zero, arm and weights up and down, what it gives and what it would hold, kept. Stopped in the middle and
// gone on with; one weight, a reading that falls and a row without a figure are refused in the program's words. The peer is `cell calibrate` with the
// same weights in another book; gain and doubt by hand are the reference tests' affair (GUM H.3).
import { join } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, problems, run, serve, stopInOrder } from './harness.mjs';

const HUNG = [['0', '0.1'], ['10', '49.2'], ['20', '98.4'], ['30', '147.3'], ['20', '98.5'], ['10', '49.3'], ['0', '0.2']];

export default async function calibrate() {
  const book = demoDay().book, peer = join(folder, 'peer.book');
  run('book', 'new', '--book', peer);
  const line = ask('cell', 'calibrate', '--arm', '500 mm', ...HUNG.flatMap(([m, r]) => ['--weight', `${m} kg=${r} N.m`]), '--book', peer);
  const server = await serve(book);
  let page = await open({ viewport: { width: 820, height: 1180 }, hasTouch: true });
  await page.goto(`${server.address}#/shop`);
  await page.getByRole('link', { name: 'Calibrate the load cell, step by step' }).click();
  await page.locator('.calibrate').waitFor();
  const step = (n) => page.locator('.calibration-step').nth(n - 1), work = () => page.getByRole('button', { name: 'Work it out' });
  check('nothing can be kept before it is worked out', await work().isDisabled() && await page.getByRole('button', { name: 'Keep this calibration' }).isDisabled());
  await step(1).getByLabel(/^Without load/).fill('0.1');
  await step(1).getByRole('button', { name: 'Keep the zero' }).click();
  await page.locator('.calibration-step.done').first().waitFor();
  check('the zero is in the book, in the unit beside the field', ask('cell', 'calibrations', '--book', book).records.some((r) => r.kind === 'zero' && r.value === 0.1));
  const hang = async (i) => {
    if (i > 0) await page.getByRole('button', { name: 'Next weight' }).click();
    await page.getByLabel(`Weight ${i + 1}, kg`).fill(HUNG[i][0]);
    await page.getByLabel(`Reading ${i + 1}, N·m`).fill(HUNG[i][1]);
  };
  await page.getByLabel(/^Length of the arm/).fill('500');
  await hang(0);
  await work().click();
  await step(3).getByRole('alert').filter({ hasText: 'at least three points' }).waitFor();
  check('one weight is no calibration, in the words of the program', true);
  for (let i = 1; i < 4; i++) await hang(i);
  await page.getByLabel('Reading 3, N·m').fill('9.84');
  await work().click();
  await step(3).getByRole('alert').filter({ hasText: 'reading 3 (9.84 N·m) is below reading 2 (49.20 N·m)' }).waitFor();
  await axe(page, 'a calibration refused');
  await picture(page, 'calibrate-refused');
  check('nothing was kept by any of it', ask('cell', 'calibrations', '--book', book).records.filter((r) => r.kind === 'calibration').length === 0);
  await page.getByLabel('Reading 3, N·m').fill('');
  await work().click();
  await page.locator('.hung .problem').waitFor();
  check('a row without a figure is said at its field', await page.locator('.hung input[aria-invalid]').count() === 1);
  await page.getByLabel('Reading 3, N·m').fill(HUNG[2][1]);
  await page.reload();
  await page.getByLabel('Reading 4, N·m').waitFor();
  check('a reload loses nothing', await page.getByLabel('Reading 4, N·m').inputValue() === '147.3' && await page.getByLabel(/^Length of the arm/).inputValue() === '500');
  await page.getByRole('button', { name: 'Next weight' }).click();
  await page.getByLabel('Weight 5, kg').fill('20');
  await page.getByLabel('Reading 5, N·m').fill(HUNG[4][1]);
  await page.getByRole('button', { name: 'Next weight' }).click();
  check('on the way down the next weight is proposed, and no reading', await page.getByLabel('Weight 6, kg').inputValue() === '10' && await page.getByLabel('Reading 6, N·m').inputValue() === '');
  await page.getByLabel('Reading 6, N·m').fill(HUNG[5][1]);
  await hang(6);
  await work().click();
  await step(3).locator('.big').waitFor();
  const says = await step(3).innerText();
  check('gain and its doubt are those of the command', says.includes(line.gain.toFixed(5)) && says.includes((2 * line.gain_standard_uncertainty).toFixed(5)), [says, line]);
  check('and hysteresis', says.includes(line.hysteresis_n_m.toFixed(2)), says);
  check('worked out is not kept', ask('cell', 'calibrations', '--book', book).records.filter((r) => r.kind === 'calibration').length === 0);
  check('what it would do to pulls is said', /No pull in the book is put in doubt|would be held/.test(says), says);
  await axe(page, 'a calibration worked out');
  await picture(page, 'calibrate-gives');
  await page.getByLabel('Reading 2, N·m').fill('49.4');
  check('typed again, the answer is gone', await step(3).locator('.big').count() === 0 && await page.getByRole('button', { name: 'Keep this calibration' }).isDisabled());
  await page.getByLabel('Reading 2, N·m').fill(HUNG[1][1]);
  await work().click();
  await step(3).locator('.big').waitFor();
  await page.getByRole('button', { name: 'Keep this calibration' }).click();
  await page.getByText(/The calibration is kept/).first().waitFor();
  const kept = ask('cell', 'calibrations', '--book', book).records.filter((r) => r.kind === 'calibration');
  check('kept once, with the same gain', kept.length === 1 && kept[0].value === line.gain, kept);
  check('and the form is empty', await page.getByLabel(/^Length of the arm/).inputValue() === '');
  for (let i = problems.length; i-- > 0;) if (/4(22|00)/.test(String(problems[i]))) problems.splice(i, 1); /* refused on purpose */
  await page.close();
  page = await open({ viewport: { width: 390, height: 844 } });
  await page.goto(`${server.address}#/calibrate`);
  await page.locator('.calibrate').waitFor();
  check('no sideways scrolling on a phone', await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await picture(page, 'calibrate-phone');
  await page.close();
  await stopInOrder(server);
}
