// Live at the window of the cell: the curve grows over the last like pull, nothing scrolls at 1280 x 720, the set-up is said for the next
// pull, one card after a pull, keys, and a stop that asks once in a pull.
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

const samples = (page) => page.locator('.live-curve canvas').evaluate((c) => Number(c.dataset.samples ?? 0));
const inPull = (page, is) => page.waitForFunction((want) => (document.querySelector('.fresh.pull') != null) === want, is, { timeout: 60000 });
const say = (page, line) => page.evaluate((text) => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ line: text }) }).then((r) => r.status), line);

/* What stands below the fold, of what must not. */
const below = (page) => page.evaluate(() => ['.heroes', '.live-curve', '.live-actions', '.live-side'].filter((one) => { const box = document.querySelector(one)?.getBoundingClientRect(); return !box || box.bottom > innerHeight + 1; }));

async function sizes(page) {
  for (const [width, height, name] of [[1280, 720, 'laptop'], [1920, 1080, 'window'], [1180, 820, 'tablet']]) {
    await page.setViewportSize({ width, height });
    await page.evaluate(() => scrollTo(0, 0));
    await page.waitForTimeout(150);
    check(`nothing that counts lies below the fold at ${width} x ${height}`, (await below(page)).length === 0, await below(page));
    const digits = await page.locator('.hero-value').first().evaluate((e) => parseFloat(getComputedStyle(e).fontSize));
    check(`figures are at least 60 px at ${width} x ${height}`, digits >= 60, digits);
    await picture(page, `live-${name}`);
  }
  await page.setViewportSize({ width: 1280, height: 720 });
}

export default async function atTheWindow() {
  const server = await serve(demoDay().book);
  const page = await open({ viewport: { width: 1280, height: 720 } });
  await page.goto(`${server.address}#/live`);
  /* the engine that ran the day goes back into the cell: another one has no pull to lie underneath, and no set-up */
  await page.evaluate(() => fetch('/api/v1/engines/1/in-cell', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' }));
  await page.getByLabel('Source').fill('practice:?rate=50&run=oil 90;coolant 80;wait 600');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.locator('.live-curve').waitFor();
  await page.waitForFunction(() => Number(document.querySelector('.live-curve canvas')?.dataset.under) > 10, null, { timeout: 20000 });
  check('an earlier pull lies underneath', /over\s+pull \d+/.test(await page.locator('.live-curve figcaption').innerText()), await page.locator('.live-curve figcaption').innerText());

  const row = page.locator('.said-row', { hasText: 'spark' }).first();
  const before = await row.locator('dd span').innerText();
  await row.getByRole('button', { name: 'spark: one step up' }).click();
  await page.waitForFunction(() => document.querySelector('.said-next') != null);
  const after = await row.locator('dd b').innerText();
  check('a step up is one degree', parseFloat(after) === parseFloat(before) + 1, [before, after]);
  await page.locator('.live-setup').getByLabel('to').fill('fast');
  await page.getByRole('button', { name: 'For the next pull' }).click();
  await page.getByText(/'fast' is not a figure/).waitFor();
  check('what is no figure is refused in words, and stays in its field', await page.locator('.live-setup').getByLabel('to').inputValue() === 'fast');
  await page.locator('.live-setup').getByLabel('to').fill('');

  await say(page, 'send sweep 2500 6500 110');
  await inPull(page, true);
  await page.waitForFunction(() => Number(document.querySelector('.live-curve canvas')?.dataset.samples) > 20, null, { timeout: 20000 });
  const some = await samples(page);
  await page.waitForTimeout(700);
  check('the curve grows as the pull runs', await samples(page) > some, some);
  check('how far it still is, is said', /to the limit of|Today's limit|BEYOND/.test(await page.locator('.to-go').innerText()), await page.locator('.to-go').innerText());
  check('in a pull the set-up is locked', await row.getByRole('button', { name: 'spark: one step up' }).isDisabled());
  await sizes(page);
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('Shift+S');
  await page.getByRole('button', { name: /press again to stop/ }).waitFor();
  check('in a pull, stop asks once', await page.locator('.live-curve').count() === 1);
  await page.keyboard.press('m');
  check('m leads to the mark', await page.evaluate(() => document.activeElement?.closest('.live-actions') != null));
  await page.keyboard.type('X marks nothing here');
  await page.keyboard.press('Enter');
  await inPull(page, false);
  await page.locator('.pull-card').waitFor({ timeout: 60000 });
  check('what is typed in the mark is no key: nothing was shut down', await page.locator('.alarm.shut-down').count() === 0);
  await page.waitForFunction(() => /Next sensible step/.test(document.querySelector('.pull-card')?.textContent ?? ''));
  check('after the pull: verdict and next step on one card', /pull/i.test(await page.locator('.pull-card h2').innerText()));
  await page.waitForFunction(() => document.querySelector('.said-next') == null);
  check('what was said went with it, and stands now', (await row.locator('dd').innerText()).includes(parseFloat(after).toString()));
  await picture(page, 'live-after');
  await page.evaluate(() => scrollTo(0, 0));
  check('the card lies above the fold', (await page.locator('.pull-card h2').boundingBox()).y < 720);
  await axe(page, 'live after a pull');
  await page.locator('.pull-card').getByRole('button', { name: 'Discard' }).click();
  await page.locator('.pull-card').getByLabel('Discard, because').fill('missed the start');
  await page.locator('.pull-card').getByRole('button', { name: 'Discard' }).click();
  await page.getByText(/is discarded/).waitFor();
  check('it is discarded from the card, and can be taken back', await page.getByRole('button', { name: 'Take back' }).count() === 1);
  await page.locator('h1').first().click({ force: true }).catch(() => {});
  await page.evaluate(() => (document.activeElement)?.blur());
  await page.keyboard.press('Shift+X');
  await page.getByText(/shut.?down/i).first().waitFor();
  check('Shift and X asks for a shut-down', true);
  await page.keyboard.press('Shift+S');
  await page.getByRole('button', { name: 'Begin recording' }).waitFor({ timeout: 20000 });
  check('outside a pull, stop stops at once', true);
  await picture(page, 'live-idle');
  await axe(page, 'live, idle');
  await page.close();
  await stopInOrder(server);
}
