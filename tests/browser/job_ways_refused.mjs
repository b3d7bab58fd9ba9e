// What is refused is said in its place, and an end of a curve is no peak; no refusal names a command.
import { check, demoDay, open, serve, stopInOrder } from './harness.mjs';

/* What is refused is said where the answer would be, and nothing goes on "reading". */
async function refusals(page) {
  const no = (route) => route.fulfill({ status: 400, contentType: 'application/json', body: '{"error":"pull 12: not so"}' });
  for (const [view, path, screen] of [['Next limit', '**/step-up', 'pulls?a=12&view=limit'], ['Channels', '**/channels?*', 'pulls?a=12&view=channels'], ['Method', '**/api/v1/method', 'pulls?a=12&view=method'], ['Predict', '**/api/v1/engines/*', 'predict']]) {
    await page.route(path, no);
    await page.goto('about:blank');
    await page.goto(`${page.home}#/${screen}`);
    const said = page.locator('main [role="status"]', { hasText: 'Pull 12: not so' });
    await said.first().waitFor({ timeout: 10000 }).catch(() => 0);
    const text = await page.locator('main').innerText();
    check(`${view}: a refusal is said in its place`, await said.count() > 0 && !/(Reading|Looking at|Walking)[^.]*…/.test(text), text.slice(-300));
    await page.unroute(path);
  }
  await page.route('**/explain?*', no);
  await page.goto('about:blank');
  await page.goto(`${page.home}#/pulls?a=12`);
  const power = page.locator('tr', { hasText: 'Highest power' }).locator('.figure-link').first();
  await power.waitFor();
  await power.click();
  await page.locator('.explain [role="status"]', { hasText: 'not so' }).waitFor({ timeout: 10000 }).catch(() => 0);
  const walked = await page.locator('.explain').first().innerText();
  check('a figure that can\'t be walked back says why', /not so/.test(walked) && !/Walking/.test(walked), walked);
  await page.unroute('**/explain?*');
}

/* The highest power of a curve that ends there is not said to be the highest. */
async function ends(page) {
  await page.route('**/api/v1/curves?*', async (route) => {
    const answer = await route.fetch(), json = await answer.json();
    for (const c of json.curves) { c.peak.power_at_end = true; c.peak.torque_at_end = false; }
    await route.fulfill({ response: answer, json });
  });
  await page.goto('about:blank');
  await page.goto(`${page.home}#/pulls?a=12`);
  const row = (name) => page.locator('tr', { hasText: name }).first();
  await row('Highest power').waitFor();
  check('a highest power at the end of its curve says so', /an end of the curve: the highest may lie beyond/.test(await row('Highest power').innerText()), await row('Highest power').innerText());
  check('and a highest torque within it does not', !/may lie beyond/.test(await row('Highest torque').innerText()));
  await page.unroute('**/api/v1/curves?*');
}

export default async function refused() {
  const server = await serve(demoDay().book);
  const page = await open();
  page.home = server.address;
  await refusals(page);
  await ends(page);
  await page.context().close();
  await stopInOrder(server);
}
