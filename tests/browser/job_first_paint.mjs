// How soon something is painted; and rows to be read before the page's script, which never stand in the place of those that answer.
import { check, demoDay, open, serve, stopInOrder } from './harness.mjs';

/* The list's answer, or the script, comes late. */
async function late(server, file, ms) {
  const page = await open();
  await page.route(file, async (route) => { await new Promise((done) => setTimeout(done, ms)); await route.continue(); });
  await page.addInitScript(() => {
    window.read = 0;
    new MutationObserver(() => { if (document.querySelector('.list-side[aria-busy] tr[data-row]')) window.read++; }).observe(document, { childList: true, subtree: true });
  });
  await page.goto(`${server.address}#/pulls?a=34`);
  await page.locator('table.list button.side:enabled').first().waitFor();
  await page.waitForTimeout(ms + 500);
  const row = (await page.locator('tr[data-row]').first().innerText()).replace(/\s+/g, ' ');
  check(`${file} ${ms} ms late: the rows answer`, await page.locator('.list-side[aria-busy]').count() === 0 && await page.locator('table.list button.side:enabled').count() > 10, row);
  await page.locator('tr[data-row] button.side.b').first().click();
  await page.waitForFunction(() => /b=\d+/.test(location.hash));
  const read = await page.evaluate(() => window.read);
  await page.close();
  return read;
}

export default async function paint() {
  const server = await serve(demoDay().book);
  const page = await open();
  await page.goto(`${server.address}#/pulls?a=34`);
  await page.waitForFunction(() => performance.getEntriesByName('first-contentful-paint').length > 0);
  const first = await page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0].startTime);
  console.log(`first paint ${Math.round(first)} ms`);
  check('something is painted within a second', first < 1000, first);
  await page.close();
  check('rows are there to be read before the script', await late(server, '**/app.js', 800) > 0);
  await late(server, '**/pulls?newest=*', 1200);
  await late(server, '**/api/v1/book', 700);
  await stopInOrder(server);
}
