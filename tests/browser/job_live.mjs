// Live practice: figures, a pull, a mark, an alarm that asks for a shut-down, and numbers that stop being numbers.
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

export default async function live() {
  const server = await serve(demoDay().book);
  const page = await open();
  await page.goto(`${server.address}#/live`);
  await page.getByLabel('Source').fill('practice:?rate=50&run=oil 90;coolant 80;wait 1;sweep 2500 6500 900;wait 600');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  const speed = page.locator('.hero-value').first();
  await page.waitForFunction(() => /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''));
  check('figures are live', await page.locator('.fresh').innerText() === 'live');
  await page.getByText(/^pull \d+:|pull \d+: /).first().waitFor({ timeout: 60000 });
  check('a pull is told as it ends', true);
  const scale = () => page.locator('.trend figcaption').innerText().then((t) => t.replaceAll('\u202f', ' ').replaceAll('\u2009', ' '));
  const [, top] = /torque up to ([\d,]+) N·m/.exec(await scale()) ?? [];
  const most = Math.max(...(await (await page.request.get(`${server.address}api/v1/curves?pulls=${(await (await page.request.get(`${server.address}api/v1/pulls`)).json()).pulls.at(-1).id}`)).json()).curves[0].curve.observed_torque_n_m.filter((v) => v != null));
  check('the trend holds the highest torque', Number(top?.replace(',', '')) >= most, [top, most]);
  await page.getByRole('button', { name: 'US' }).click();
  await page.waitForFunction(() => /lb-ft/.test(document.querySelector('.trend figcaption')?.textContent ?? ''));
  check('and speaks the units that were chosen', true);
  await page.getByRole('button', { name: 'SI' }).click();
  await picture(page, 'live-running');
  await page.getByRole('textbox', { name: 'Mark' }).fill('smoke at the tailpipe');
  await page.getByRole('button', { name: 'Mark' }).click();
  await page.getByText('smoke at the tailpipe').waitFor();
  await page.evaluate(() => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{"line":"send fault oil-pump"}' }));
  await page.evaluate(() => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{"line":"send sweep 2500 6500 900"}' }));
  await page.locator('.alarm').first().waitFor({ timeout: 60000 });
  check('an alarm stands on the screen and says what to do', /SHUT DOWN|BACK OFF|NOTICE/.test(await page.locator('.alarm').first().innerText()));
  await picture(page, 'live-alarm');
  await axe(page, 'the live screen with an alarm');
  await page.getByRole('button', { name: 'Stop recording' }).click();
  await page.waitForFunction(() => document.querySelector('.hero-value')?.textContent === '– –');
  check('when data stops, the numbers stop being numbers', await speed.innerText() === '– –');
  await page.close();
  await stopInOrder(server);
}
