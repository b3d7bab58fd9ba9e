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
  const rows = () => page.locator('.list-side tbody tr:not(.day-row)').count();
  const all = (await page.evaluate(() => fetch('/api/v1/pulls?units=si').then((r) => r.json()))).pulls;
  const box = page.getByLabel('Find pulls'), promised = (await box.getAttribute('placeholder')).replace('Find: ', '');
  await box.fill(promised);
  const both = all.filter((p) => p.discarded != null && /^30 /.test(p.setup.spark ?? '')).length;
  check('what the field promises is found as it stands there', await rows() === both && both > 0, [promised, await rows(), both]);
  for (const [term, is] of [['spark 30', (p) => /^30 /.test(p.setup.spark ?? '')], ['discarded', (p) => p.discarded != null], ['2026-06-12', (p) => p.day === '2026-06-12'], ['lambda 0.88', (p) => /^0\.88(?!\d)/.test(p.setup.lambda ?? '')], ['spark 30, lambda 0.95', (p) => /^30 /.test(p.setup.spark ?? '') && p.setup.lambda === '0.95']]) {
    await box.fill(term);
    const wanted = all.filter(is).length;
    check(`${term}: all of them and no others`, await rows() === Math.min(wanted, 100), [await rows(), wanted]);
  }
  await box.fill('spark 77');
  check('what is not there is said', /No pull has/.test(await page.locator('.found').innerText()));
  await box.fill('');
}

async function files(page, made) {
  const text = readFileSync(join(made.recordings, 'run-13.csv'), 'utf8');
  const count = () => page.evaluate(() => fetch('/api/v1/pulls?units=si').then((r) => r.json())).then((r) => r.pulls.length);
  const before = await count(), part = (k) => ({ name: `chosen-${k}.csv`, mimeType: 'text/csv', buffer: Buffer.from(text + '\n'.repeat(k)) });
  for (const [screen, ready] of [['day', '.next-step'], ['pulls?a=12', '.list-side']]) {
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
  }, ['pasted.csv', text + '\n\n']);
  await page.locator('.said', { hasText: 'from pasted.csv' }).waitFor({ timeout: 30000 });
  check('and files can be pasted', await count() >= before, [before, await count()]);
}

async function notThere(page, server) {
  for (const [address, says] of [['handover?engine=999', /999/], ['engine?engine=999', /no engine 999/], ['engine?engine=zzz', /No such engine/]]) {
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
  await back(page, server);
  await find(page);
  await files(page, made);
  await notThere(page, server);
  await nothingRefused(page, server);
  await page.context().close();
  await stopInOrder(server);
}
