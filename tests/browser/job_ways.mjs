// Ways in and out: Back from Pulls, files chosen and pasted when the book has pulls already, several with each one's answer, what the field
// to find promises, addresses of what is not there, and no request that is refused by merely looking. No refusal names a command.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

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

async function notThere(page, server) {
  for (const [address, says] of [['handover?engine=999', /999/], ['engine?engine=999', /engine '999'/i], ['engine?engine=zzz', /No such engine/]]) {
    await page.goto('about:blank');
    await page.goto(`${server.address}#/${address}`);
    await page.locator('.first').waitFor({ timeout: 10000 }).catch(() => 0);
    const text = await page.locator('main').innerText();
    check(`${address} says that there is none, and where to go`, says.test(text) && await page.locator('main a').count() > 0 && !/Gathering|Reading/.test(text), text.slice(0, 200));
    check(`${address}: without a command`, !COMMAND.test(text), text.slice(0, 200));
  }
  await axe(page, 'an engine that is not there');
  await picture(page, 'ways-no-engine');
  for (const path of ['curves?pulls=999', 'pulls/999/step-up', 'pulls/999/explain?speed_rpm=3000', 'sheet-pages?kind=report&engine=zzz', 'sheet-pages?kind=build&engine=zzz', 'report?pulls=1,99', 'handover?engine=zzz', 'attachments/999', 'devices', 'attachments?of=build:zzz']) {
    const { error } = await page.evaluate((p) => fetch('/api/v1/' + p).then((r) => r.json()), path);
    check(`${path} is refused without a command`, error && !COMMAND.test(error), error);
  }
}

async function nothingRefused(page, server) {
  const refused = [];
  page.on('response', (r) => { if (r.status() >= 400) refused.push(`${r.status()} ${r.url()}`); });
  for (const [screen, ready] of [['day', '.next-step'], ['live', '.heroes'], ['pulls', '.plot-box canvas'], ['engine', '.facts'], ['build', '.item, .first'], ['handover', '.sheets img'], ['shop', 'table.list'], ['window', '.heroes']]) {
    await page.goto(`${server.address}#/${screen}`);
    await page.locator(ready).first().waitFor({ timeout: 30000 });
    await page.waitForLoadState('networkidle').catch(() => 0);
  }
  await page.goto(`${server.address}#/shop`);
  await page.getByText('Tablets and window screens').first().waitFor();
  await page.waitForTimeout(500);
  check('looking at a screen asks for nothing that is refused', refused.length === 0, refused);
}

export default async function ways() {
  const made = demoDay(), server = await serve(made.book);
  const page = await open();
  page.home = server.address;
  await back(page, server);
  await find(page);
  await files(page, made);
  await notThere(page, server);
  await refusals(page);
  await ends(page);
  await nothingRefused(page, server);
  await page.context().close();
  await stopInOrder(server);
}
