// Keyboard alone: the cursor, a figure walked back, units, the report.
import { readFileSync } from 'node:fs';
import { check, demoDay, open, serve, stopInOrder } from './harness.mjs';

export default async function keyboard() {
  const server = await serve(demoDay().book);
  const page = await open();
  await page.goto(`${server.address}#/pulls?a=34`);
  await page.locator('.plot-box canvas').first().waitFor();
  await page.locator('.plot-box').first().focus();
  for (const key of ['End', 'ArrowLeft', 'ArrowLeft', '+', '-', '0', 'Enter']) await page.keyboard.press(key);
  await page.getByText('Corrected torque', { exact: true }).waitFor();
  const told = await page.locator('.readout').first().innerText();
  check('the cursor is told in words', /rpm: torque [\d.]+/.test(told.replaceAll('\u202f', ' ')), told);
  const heading = await page.locator('.explain h3').innerText();
  check('a figure is walked back by keyboard alone', /Pull 34 at [\d,]+/.test(heading), heading);
  await page.getByRole('button', { name: 'US' }).click();
  await page.getByText('lb-ft').first().waitFor();
  check('figures change their units', true);
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: 'Report of these (PDF)' }).click()]);
  check('the report is a PDF', readFileSync(await download.path(), 'latin1').startsWith('%PDF-'));
  await page.close();
  await stopInOrder(server);
}
