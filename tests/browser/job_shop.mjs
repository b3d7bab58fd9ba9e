// The shop: engines found by a word and put in the cell, taken back, seen by a second device at once; backup and verify.
import { join } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, serve, stopInOrder } from './harness.mjs';

/* Each engine's screens, also of one that is not in the cell: to be read, and its combination to be kept. */
async function elsewhere(page, server) {
  await page.goto(`${server.address}#/shop`);
  await page.getByRole('link', { name: 'pulls of hill-climb six', exact: true }).click();
  await page.getByText('Pulls of one engine only').waitFor();
  check('its pulls', Number(await page.locator('.list-side table.list').getAttribute('data-pulls')) > 30);
  await page.goto(`${server.address}#/shop`);
  await page.getByRole('link', { name: 'build of hill-climb six', exact: true }).click();
  await page.getByText(/This engine is not in the cell|No build record of this engine yet/).first().waitFor();
  check('its build, to be read', await page.getByRole('button', { name: 'Keep' }).count() === 0);
  await page.goto(`${server.address}#/shop`);
  await page.getByRole('link', { name: 'combination of hill-climb six', exact: true }).click();
  await page.getByText('Not the engine in the cell').waitFor();
  check('its combination', await page.getByLabel('serial', { exact: true }).inputValue() === 'HC6-004');
  await page.goto(`${server.address}#/shop`);
  await page.getByRole('link', { name: 'sheets of hill-climb six', exact: true }).click();
  await page.getByRole('heading', { name: 'Hand over hill-climb six' }).waitFor();
  check('its sheets', true);
  await page.goto(`${server.address}#/shop`);
}

export default async function shop() {
  const server = await serve(demoDay().book);
  const page = await open(), other = await open({ viewport: { width: 390, height: 844 } });
  await page.goto(`${server.address}#/shop`);
  await other.goto(`${server.address}#/shop`);
  await other.locator('#engines tbody tr').first().waitFor();
  await page.evaluate(() => fetch('/api/v1/engines', { method: 'PUT', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ typed: { name: 'Second of the shop', serial: 'EW-0002', owner: 'B. Nobody' } }) }));
  await other.getByRole('rowheader', { name: 'Second of the shop' }).waitFor({ timeout: 5000 });
  check('a second device sees the new engine at once', true);
  const rows = page.locator('#engines tbody tr');
  await page.getByLabel('Find').fill('ew-0002');
  await page.waitForFunction(() => document.querySelectorAll('#engines tbody tr').length === 1);
  check('an engine is found by its serial', /Second of the shop/.test(await rows.first().innerText()));
  await page.getByLabel('Find').fill('zebra');
  await page.getByText("Nothing in the book has the word 'zebra'.").waitFor();
  await page.getByLabel('Find').fill('');
  const put = page.getByRole('button', { name: /^Put in the cell/ }).first();
  await put.waitFor();
  await put.click();
  await page.getByText('is in the cell: the next pulls belong to it').waitFor();
  await other.waitForFunction(() => !/here now/.test([...document.querySelectorAll('#engines tbody tr')].find((r) => /Second/.test(r.textContent))?.textContent ?? 'here now'));
  check('the other device sees which engine is in the cell', true);
  await page.getByRole('button', { name: 'Take back' }).click();
  await page.waitForFunction(() => /here now/.test([...document.querySelectorAll('#engines tbody tr')].find((r) => /Second/.test(r.textContent))?.textContent ?? ''));
  check('and it is taken back', true);
  check('what is not safe is said first', /no backup yet/.test(await page.locator('.not-safe').innerText()), await page.locator('.not-safe').innerText());
  await page.getByRole('button', { name: 'Back up now' }).click();
  await page.getByText(/^Copied to .*\.book/).waitFor({ timeout: 30000 });
  await page.getByRole('button', { name: 'Is it whole?' }).click();
  await page.getByText(/^Whole: \d+ recordings/).waitFor({ timeout: 60000 });
  check('a copy is made and the book is whole', true);
  await page.locator('li a[download]').first().waitFor();
  const [copy] = await Promise.all([page.waitForEvent('download'), page.locator('li a[download]').first().click()]);
  const file = join(folder, 'copy.book');
  await copy.saveAs(file);
  check('the copy is downloaded, and is whole', ask('book', 'verify', '--book', file).whole === true);
  check('calibrations due stand there with what is wanted', /load cell.*\s*never done/.test((await page.locator('.due').innerText()).replaceAll('\n', ' ')), await page.locator('.due').innerText());
  await axe(page, 'the shop');
  await picture(page, 'shop-light');
  await page.emulateMedia({ colorScheme: 'dark' });
  await page.waitForTimeout(400); // colours move for a moment
  await axe(page, 'the shop in the dark');
  await picture(page, 'shop-dark');
  const engines = other.locator('#engines .fold');
  check('at 390 px rows fold: no table scrolls sideways', await engines.evaluate((t) => t.scrollWidth <= t.clientWidth && getComputedStyle(t.querySelector('tr')).gridTemplateColumns.split(' ').length === 2));
  check('and it is still a table to a screen reader', await other.getByRole('rowheader', { name: 'Second of the shop' }).count() === 1 && await other.getByRole('cell').count() > 10);
  await elsewhere(page, server);
  check('no sideways scrolling at 390 px', await other.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await picture(other, 'shop-390');
  await page.close();
  await other.close();
  await stopInOrder(server);
}
