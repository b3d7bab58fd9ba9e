// American and British labels: no word of the other table on any main screen, what somebody typed left alone, keys unchanged,
// changed on the Shop screen and seen at once. Sheets are read by pdftotext (poppler), which knows nothing of the program.
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { axe, check, demoDay, folder, open, picture, run, serve, stopInOrder } from './harness.mjs';

const screens = ['day', 'live', 'pulls?a=1,2&b=3,4', 'engine', 'predict', 'build', 'handover', 'shop'];
const owner = 'Inlet Centre Ltd';

/** Words of the list in texts that the page shows of its own; a word within a key, quotes or an address is none. */
async function found(page, words) {
  return page.evaluate(({ words }) => {
    document.querySelectorAll('details').forEach((d) => { d.open = true; });
    const any = new RegExp(`(?<![\\w.\\-/'"])(${words.join('|')})(?![\\w=])`, 'i');
    const walk = document.createTreeWalker(document.getElementById('page'), NodeFilter.SHOW_TEXT), hits = [];
    while (walk.nextNode()) {
      const node = walk.currentNode;
      if (!node.parentElement.closest('[translate=no], code, textarea') && any.test(node.textContent)) hits.push(node.textContent.slice(0, 120));
    }
    document.querySelectorAll('[aria-label], [placeholder]').forEach((e) => {
      for (const name of ['aria-label', 'placeholder']) if (!e.closest('[translate=no]') && any.test(e.getAttribute(name) ?? '')) hits.push(`${name}: ${e.getAttribute(name)}`);
    });
    return hits;
  }, { words });
}

/** Until the screen's text stood still for half a second. */
async function settled(page) {
  await page.waitForFunction(() => {
    const text = document.getElementById('page').innerText, last = window.lastText;
    if (last?.text !== text) { window.lastText = { text, at: performance.now() }; return false; }
    return performance.now() - last.at > 500;
  }, null, { polling: 100 });
}

async function everyScreen(page, address, words, says) {
  for (const screen of screens) {
    await page.goto(`${address}#/${screen}`);
    await page.waitForFunction(() => !document.querySelector('.lone') && document.querySelector('main h1, main h2, main form, main .live'));
    await settled(page);
    const hits = await found(page, words);
    check(`${says}: #/${screen}`, hits.length === 0, hits.slice(0, 5));
  }
}

const sheetText = (book, name, ...words) => {
  const path = join(folder, `${name}.pdf`);
  run(...words, '--book', book, '--out', path);
  return execFileSync('pdftotext', ['-layout', path, '-'], { encoding: 'utf8' });
};

/** The page's answers to the cases that the program's own rule is tested with, put where the server's words stand. */
async function sameCases(page, address) {
  const cases = readFileSync('tests/unit/base/label_cases.txt', 'utf8').split('\n').filter((line) => line.includes('\t') && !line.startsWith('#')).map((line) => line.split('\t'));
  await page.route('**/api/v1/day*', async (route) => {
    const response = await route.fetch(), day = await response.json();
    await route.fulfill({ response, json: { ...day, cautions: cases.map(([text]) => ({ ...day.next, text })) } });
  });
  await page.goto('about:blank');
  await page.goto(`${address}#/day`);
  await page.waitForFunction((count) => [...document.querySelectorAll('.mind')].some((list) => list.children.length === count), cases.length);
  const got = await page.evaluate((count) => [...[...document.querySelectorAll('.mind')].find((list) => list.children.length === count).children].map((item) => item.textContent), cases.length);
  const other = cases.map(([text, want], i) => [text, want, got[i]]).filter(([, want, is]) => is !== want);
  check(`the page's rule is the program's, in ${cases.length} cases`, other.length === 0 && cases.length >= 15, other);
  await page.unroute('**/api/v1/day*');
}

export default async function labels() {
  const { book } = demoDay();
  run('book', 'set', '--book', book, '--terms', owner);
  const server = await serve(book);
  const page = await open();
  const pairs = (await (await page.request.get(`${server.address}api/v1/book`)).json()).label_pairs;
  check('the table holds the words', pairs.length >= 15, pairs.length);
  const british = pairs.map((p) => p.british), american = pairs.map((p) => p.american);
  const before = sheetText(book, 'british', 'sheet', 'valves');
  check('the British sheet says inlet', /inlet opens/.test(before) && /top dead centre/.test(before) && !/intake|\bcenter/.test(before));
  await everyScreen(page, server.address, american, 'no American word on the British page');
  await page.getByLabel('Labels').selectOption('american');
  await page.locator('form', { has: page.getByLabel('Labels') }).getByRole('button', { name: 'Keep' }).click();
  await page.waitForFunction(async () => (await (await fetch('/api/v1/book')).json()).settings.labels === 'american');
  await page.evaluate(() => fetch('/api/v1/notes', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ day: '2026-11-25', text: 'inlet gasket weeps' }) }));
  await everyScreen(page, server.address, british, 'no British word on the American page');
  await sameCases(page, server.address);
  await page.goto(`${server.address}#/engine?part=cam`);
  await page.getByText('intake', { exact: false }).first().waitFor();
  check('a key keeps its word in the field beneath', await page.locator('[id*="inlet"]').count() > 0);
  await picture(page, 'labels-american-engine');
  await page.goto(`${server.address}#/shop`);
  check("the shop's own words stay", await page.getByLabel('Terms at the foot').inputValue() === owner);
  await axe(page, 'the shop with American labels');
  await picture(page, 'labels-american-shop');
  const after = sheetText(book, 'american', 'sheet', 'valves');
  check('the American sheet says intake', /intake opens/.test(after) && /top dead center/.test(after) && !/\binlet\b|\bcentre\b/.test(after.replaceAll(owner, '')), after.slice(0, 600));
  check('and leaves the terms as written', after.includes(owner));
  run('build', 'start', '--build', 'Inlet build', '--family', 'inlet centre family', '--block', 'aluminium', '--book', book);
  run('pull', 'discard', '35', '--reason', 'petrol leak at the carburettor', '--book', book);
  const build = sheetText(book, 'build', 'sheet', 'build'), typed = ['Inlet build', 'inlet centre family', 'block aluminium'];
  check('cells that somebody typed keep their words', typed.every((words) => build.includes(words)), typed.filter((words) => !build.includes(words)));
  check('a reason keeps its words', sheetText(book, 'discarded', 'sheet', 'report', '--for', 'shop', '--engine', 'hill-climb six').includes('Pull 35 was discarded: petrol leak at the carburettor'));
  const report = sheetText(book, 'report', 'sheet', 'report', '--pulls', '1,2');
  check('the report says intake air', /intake air/.test(report) && /vapor/.test(report) && !/vapour|inlet air/.test(report), report.slice(0, 800));
  await page.getByLabel('Labels').selectOption('british');
  await page.locator('form', { has: page.getByLabel('Labels') }).getByRole('button', { name: 'Keep' }).click();
  await page.waitForFunction(async () => (await (await fetch('/api/v1/book')).json()).settings.labels === 'british');
  await page.close();
  await stopInOrder(server);
}
