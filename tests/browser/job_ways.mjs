// Ways in and out: Back from Pulls, files chosen and pasted when the book has pulls already, several with each one's answer, what the field
// to find promises. No refusal names a command.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { check, demoDay, open, serve, stopInOrder } from './harness.mjs';

const to = async (page, screen, ready) => { await page.evaluate((hash) => { location.hash = hash; }, '#/' + screen); await page.locator(ready).first().waitFor(); };
const COMMAND = /enginewright [a-z]|'(pull|build|book|engine|cell) [a-z]|(^|\s)--[a-z]/;

async function back(page, server) {
  await page.goto(`${server.address}#/day`);
  await page.locator('.next-step').waitFor();
  await page.getByRole('link', { name: 'Pulls', exact: true }).click();
  await page.waitForFunction(() => /a=\d+/.test(location.hash));
  await page.locator('.plot-box canvas').first().waitFor();
  await page.goBack();
  await page.waitForTimeout(500);
  check('Back leads out of Pulls', /#\/day/.test(page.url()), page.url());
  await page.goForward();
  await page.locator('.plot-box canvas').first().waitFor();
  check('and Forward in again', /#\/pulls\?a=\d+/.test(page.url()), page.url());
}

async function find(page) {
  await to(page, 'pulls?a=12', '.list-side tbody tr');
  const rows = () => page.locator('.list-side table').getAttribute('data-pulls').then(Number); /* those in sight are drawn */
  const all = (await page.evaluate(() => fetch('/api/v1/pulls?units=si').then((r) => r.json()))).pulls;
  const box = page.getByLabel('Find pulls'), promised = (await box.getAttribute('placeholder')).replace('Find: ', '');
  await box.fill(promised);
  const both = all.filter((p) => p.discarded != null && /^30 /.test(p.setup.spark ?? '')).length;
  check('what the field promises is found as it stands there', await rows() === both && both > 0, [promised, await rows(), both]);
  for (const [term, is] of [['spark 30', (p) => /^30 /.test(p.setup.spark ?? '')], ['discarded', (p) => p.discarded != null], ['2026-06-12', (p) => p.day === '2026-06-12'], ['lambda 0.88', (p) => /^0\.88(?!\d)/.test(p.setup.lambda ?? '')], ['spark 30, lambda 0.95', (p) => /^30 /.test(p.setup.spark ?? '') && p.setup.lambda === '0.95']]) {
    await box.fill(term);
    const wanted = all.filter(is).length;
    check(`${term}: all of them and no others`, await rows() === wanted, [await rows(), wanted]);
  }
  /* one that tripped is found by that, and by what tripped; it does not count */
  await page.route('**/api/v1/pulls?*', async (route) => {
    const answer = await route.fetch(), json = await answer.json();
    json.pulls[3].tripped = 'shut down: oil pressure lost';
    await route.fulfill({ response: answer, json });
  });
  await page.reload();
  await page.locator('.list-side tbody tr').first().waitFor();
  for (const term of ['tripped', 'oil pressure lost', 'tripped, oil pressure']) {
    await box.fill(term);
    const found = await page.locator('.list-side tbody tr[data-row]').allInnerTexts();
    check(`${term}: the pull in which it tripped and no other`, found.length === 1 && found[0].includes('oil pressure lost'), found);
  }
  await box.fill('counts');
  check('one that tripped does not count', await rows() > 0 && !(await page.locator('.list-side tbody').innerText()).includes('oil pressure lost'));
  await page.unroute('**/api/v1/pulls?*');
  await box.fill('spark 77');
  check('what is not there is said', /No pull has/.test(await page.locator('.found').innerText()));
  await box.fill('');
}

async function files(page, made) {
  /* other evidence, not the same saved in another way: its last rows are left out */
  const lines = readFileSync(join(made.recordings, 'run-13.csv'), 'utf8').trimEnd().split('\n'), text = (short) => lines.slice(0, -short).join('\n') + '\n';
  const count = () => page.evaluate(() => fetch('/api/v1/pulls?units=si').then((r) => r.json())).then((r) => r.pulls.length);
  const before = await count(), part = (k) => ({ name: `chosen-${k}.csv`, mimeType: 'text/csv', buffer: Buffer.from(text(k)) });
  for (const [screen, ready] of [['day', '.next-step'], ['pulls?a=12', '.list-turn']]) {
    await to(page, screen, ready);
    check(`files can be chosen on ${screen}`, await page.getByLabel('Add files').count() === 1);
  }
  await page.getByLabel('Add files').setInputFiles([{ name: 'broken.csv', mimeType: 'text/csv', buffer: Buffer.from('no table at all') }, part(1)]);
  await page.locator('.said', { hasText: 'NOT READ' }).waitFor({ timeout: 30000 });
  const says = await page.locator('.said', { hasText: 'NOT READ' }).innerText();
  check('each file has its answer, and one that is broken does not keep out the next', /broken\.csv/.test(says), says);
  check('no refusal of a file names a command', !COMMAND.test(says), says);
  await page.evaluate(([name, text]) => {
    const data = new DataTransfer();
    data.items.add(new File([text], name, { type: 'text/csv' }));
    dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
  }, ['pasted.csv', text(2)]);
  await page.locator('.said', { hasText: 'from pasted.csv' }).waitFor({ timeout: 30000 });
  check('and files can be pasted', await count() === before + 2, [before, await count()]);
}

export default async function ways() {
  const made = demoDay(), server = await serve(made.book);
  const page = await open();
  page.home = server.address;
  await back(page, server);
  await find(page);
  await files(page, made);
  await page.context().close();
  await stopInOrder(server);
}
