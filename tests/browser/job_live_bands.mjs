// Bands of the live screen are the limits of the alarms in force: the same figures as the table asked through the
// interface, none where no alarm watches, and the words change when the alarm does.
// Outside source: the limits written into the book's own table here; no other.
import { check, axe, demoDay, folder, open, picture, run, serve, stopInOrder } from './harness.mjs';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';

const TABLE = `alarms:
  - {name: oil floor by speed, watch: oil_pressure, action: shut down, says: shut throttle keep load, speeds: [1000 rpm, 7000 rpm], limits: "1.0 bar, 4.0 bar", hold: 60 s}
  - {name: oil lukewarm, watch: oil_temperature, action: notice, says: let the oil cool, above: 87 degC, hold: 60 s, hysteresis: 2 K}
  - {name: too fast, watch: speed, action: notice, says: bring the speed down, above: 6900 rpm}
  - {name: fuel falls, watch: fall(fuel_pressure), action: notice, says: look at fuel pump, above: 10 %, in_pull: yes}
`;

const words = (page, key) => page.locator(`[data-gauge="${key}"] .gauge-word`).first().innerText();
const told = (page, key, pattern) => page.waitForFunction(([k, p]) => new RegExp(p).test(document.querySelector(`[data-gauge="${k}"] .gauge-word`)?.textContent ?? ''), [key, pattern], { timeout: 30000 }).then(() => true, () => false);

export default async function liveBands() {
  const day = demoDay();
  const file = join(folder, 'bands.yaml');
  writeFileSync(file, TABLE);
  run('cell', 'alarms', '--alarms', file, '--keep', '--book', day.book);
  const server = await serve(day.book);
  const page = await open();
  await page.goto(`${server.address}#/live`);
  await page.getByLabel('Source').fill('practice:?rate=50&run=oil 90;coolant 80;wait 2;speed 4000;wait 600');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  check('a limit against speed is drawn at this speed: 2.50 at 4,000 rpm', await told(page, 'oil_pressure', '^from 2\\.[45]\\d \\(oil floor by speed: shut down\\)'), await words(page, 'oil_pressure').catch(String));
  check('beyond its limit is said by the alarm that sees it', await told(page, 'oil_temperature', 'beyond its limit: oil lukewarm'), await words(page, 'oil_temperature').catch(String));
  check('where no alarm watches, that is said', /no alarm watches this: no band/.test(await words(page, 'coolant_temperature')), await words(page, 'coolant_temperature'));
  check('and no band is drawn', await page.locator('[data-gauge="coolant_temperature"] .allowed').count() === 0);
  check('an alarm on the fall of a figure is no band on the figure', /no limit on the figure itself|not watched|fuel falls/.test(await words(page, 'fuel_pressure')) && await page.locator('[data-gauge="fuel_pressure"] .allowed').count() === 0, await words(page, 'fuel_pressure'));
  check('the limit of speed stands under it', /to 6,900 \(too fast: notice\)/.test(await page.locator('.hero-limit').first().innerText()));
  const [width, from] = await page.locator('[data-gauge="oil_pressure"] .allowed').evaluate((e) => [Number(e.getAttribute('width')), Number(e.getAttribute('x'))]);
  check('the band is drawn from there to the end of the scale', Math.abs(from - 100 * 2.5 / 8) < 1.5 && Math.abs(from + width - 100) < 0.01, [from, width]);
  check('how it moves stands in words', /steady|rising|falling/.test(await page.locator('[data-gauge="oil_pressure"] .gauge-move-line').innerText()));
  check('the engine can be shut down, by a button', await page.getByRole('button', { name: 'Shut the engine down' }).isEnabled());
  await page.evaluate(() => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{"line":"send sweep 2500 6500 500"}' }));
  await page.getByText('A pull is under way', { exact: false }).waitFor({ timeout: 30000 });
  check('in a pull the controls are locked', await page.getByRole('button', { name: 'Pull to 6,500' }).isDisabled());
  check('but not the one that shuts the engine down', await page.getByRole('button', { name: 'Shut the engine down' }).isEnabled());
  await picture(page, 'live-bands-light');
  await page.getByRole('heading', { name: 'Nearly tripped in the last pull' }).waitFor({ timeout: 60000 });
  check('what came near is told after the pull', true);
  await axe(page, 'the live screen with its bands');
  await page.emulateMedia({ colorScheme: 'dark' });
  await picture(page, 'live-bands-dark');
  await page.setViewportSize({ width: 1920, height: 1080 });
  const size = await page.locator('.hero-value').first().evaluate((e) => parseFloat(getComputedStyle(e).fontSize));
  check('hero figures can be read at three metres (120 px at 1920)', size >= 120, size);
  await picture(page, 'live-bands-1920');
  await page.setViewportSize({ width: 390, height: 844 });
  check('no sideways scrolling at 390 px', await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await picture(page, 'live-bands-390');
  await page.getByRole('button', { name: 'Stop recording' }).click();
  await page.close();
  await stopInOrder(server);
}
