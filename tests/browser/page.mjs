// Drives the page in Debian's Chromium: whole jobs as a person does them, and axe-core over every screen.
// Outside sources: WCAG 2.2 A and AA as axe-core checks them; the command line as the peer for answers.
import { spawn, execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
const require = createRequire(import.meta.url);
const { chromium } = require('playwright-core');
const axeSource = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

const program = process.argv[2], pictures = process.argv[3];
const folder = mkdtempSync(join(tmpdir(), 'enginewright-browser-'));
let passed = 0, failed = 0;
function check(says, good, found = '') {
  if (good) passed++;
  else { failed++; console.log(`FAILED: ${says}`, found); }
}

const children = new Set();
async function serve(book, port = 0) {
  const child = spawn(program, ['serve', '--book', book, '--port', String(port), '--json'], { stdio: ['ignore', 'pipe', 'ignore'] });
  children.add(child);
  child.on('exit', () => children.delete(child));
  const line = await new Promise((resolve, reject) => {
    let text = '';
    child.stdout.on('data', (d) => { text += d; if (text.includes('\n')) resolve(text); });
    child.once('exit', (code) => reject(new Error(`serve ended with ${code}`)));
  });
  const said = JSON.parse(line);
  return { ...said, stop: (signal = 'SIGTERM') => new Promise((done) => { child.on('exit', (code) => done(code)); child.kill(signal); }) };
}

const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', '--disable-dev-shm-usage'] });
const problems = [];
async function open(options = {}) {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, acceptDownloads: true, ...options });
  const page = await context.newPage();
  page.on('pageerror', (e) => problems.push(e.message));
  page.on('console', (m) => { if (m.type() === 'error' && !/Failed to load resource|ERR_/.test(m.text())) problems.push(m.text()); });
  return page;
}
async function axe(page, name) {
  await page.evaluate(axeSource);
  const found = await page.evaluate(async () => {
    const result = await window.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] });
    return result.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(' ') + ' ' + (n.any[0]?.message ?? '')).join(' | ')}`);
  });
  check(`axe finds nothing on ${name}`, found.length === 0, found);
}
async function picture(page, name) { if (pictures) await page.screenshot({ path: join(pictures, name + '.png') }); }

const made = JSON.parse(execFileSync(program, ['demo', '--folder', join(folder, 'day'), '--json'], { encoding: 'utf8' }));
execFileSync(program, ['engine', 'add', 'examples/engines/hill-climb-six.yaml', '--book', made.book]);

async function firstMinute() {
  const book = join(folder, 'new.book');
  const server = await serve(book);
  const page = await open();
  await page.goto(server.address);
  await page.getByText('Was that better?').waitFor();
  await axe(page, 'the empty book');
  await picture(page, 'first');
  const files = ['run-13.csv', 'run-18.csv'].map((name) => ({ name, text: readFileSync(join(made.recordings, name), 'utf8') }));
  await page.evaluate((list) => {
    const data = new DataTransfer();
    for (const f of list) data.items.add(new File([f.text], f.name, { type: 'text/csv' }));
    for (const kind of ['dragenter', 'dragover', 'drop']) document.body.dispatchEvent(new DragEvent(kind, { bubbles: true, cancelable: true, dataTransfer: data }));
  }, files);
  const says = page.locator('.verdict-line');
  await says.waitFor();
  const text = await says.innerText();
  check('two files dropped anywhere are answered in words', text.includes("can't tell yet"), text);
  const line = JSON.parse(execFileSync(program, ['compare', '1', '2', '--book', book, '--no-keep', '--json'], { encoding: 'utf8' }));
  check('with the words of the command line', text.replaceAll('\u2212', '-').includes(line.says), [text, line.says]);
  await page.getByRole('button', { name: 'Take back' }).click();
  await page.getByText('Taken back').waitFor();
  check('and can be taken back', true);
  await page.close();
  check('the server ends in order', await server.stop() === 0);
}

async function screens(server) {
  for (const [scheme, width] of [['light', 1440], ['dark', 1440], ['light', 390]]) {
    const page = await open({ colorScheme: scheme, viewport: { width, height: 900 } });
    for (const [screen, ready] of [['day', '.next-step'], ['live', '.heroes'], ['pulls?a=33,34,35&b=29,31', '.verdict-line'], ['engine', '.facts'], ['build', '.item, .first'], ['lash', '.lash, .first'], ['shop', 'table.list'], ['window', '.heroes']]) {
      await page.goto(`${server.address}#/${screen}`);
      await page.locator(ready).first().waitFor();
      await page.waitForTimeout(250);
      const name = screen.split('?')[0];
      await axe(page, `${name}, ${scheme}, ${width} px`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      check(`${name} fits ${width} px`, wide <= 0, wide);
      if (width === 1440) await picture(page, `${name}-${scheme}`);
    }
    await page.context().close();
  }
}

async function keyboard(server) {
  const page = await open();
  await page.goto(`${server.address}#/pulls?a=34`);
  await page.locator('.plot-box canvas').first().waitFor();
  await page.locator('.plot-box').first().focus();
  for (const key of ['End', 'ArrowLeft', 'ArrowLeft', '+', '-', '0', 'Enter']) await page.keyboard.press(key);
  await page.getByText('Corrected torque', { exact: true }).waitFor();
  const told = await page.locator('.readout').first().innerText();
  check('the cursor is told in words', /rpm: torque [\d.]+/.test(told.replaceAll('\u202f', ' ')), told);
  const heading = await page.locator('.explain h3').innerText();
  check('a figure is walked back by keyboard alone', /Pull 34 at [\d,]+/.test(heading), heading);
  await page.getByRole('button', { name: 'US' }).click();
  await page.getByText('lb-ft').first().waitFor();
  check('figures change their units', true);
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: 'Report of these (PDF)' }).click()]);
  check('the report is a PDF', readFileSync(await download.path(), 'latin1').startsWith('%PDF-'));
  await page.close();
}

async function live(server) {
  const page = await open();
  await page.goto(`${server.address}#/live`);
  await page.getByLabel('Source').fill('practice:?rate=50&run=oil 90;coolant 80;wait 1;sweep 2500 6500 900;wait 600');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  const speed = page.locator('.hero-value').first();
  await page.waitForFunction(() => /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''));
  check('figures are live', await page.locator('.fresh').innerText() === 'live');
  await page.getByText(/^pull \d+:|pull \d+: /).first().waitFor({ timeout: 60000 });
  check('a pull is told as it ends', true);
  await picture(page, 'live-running');
  await page.getByLabel('Mark').fill('smoke at the tailpipe');
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
}

async function lash(book) {
  let server = await serve(book);
  const port = server.port;
  const page = await open({ viewport: { width: 400, height: 800 }, hasTouch: true });
  await page.goto(`${server.address}#/build`);
  await page.getByRole('button', { name: 'Begin the record' }).click();
  await page.getByText('Checklists').waitFor();
  await page.goto(`${server.address}#/lash`);
  await page.locator('.valve').waitFor();
  const small = await page.evaluate(() => [...document.querySelectorAll('.lash-pad button, .lash-keep, .lash-walk button, .lash-head button')].filter((b) => b.getBoundingClientRect().height < 44).length);
  check('targets are for thumbs', small === 0, small);
  const keep = page.getByRole('button', { name: 'Keep, next valve' });
  const read = [];
  const one = async () => {
    read.push(await page.locator('.valve').innerText());
    await page.getByRole('button', { name: 'more by 0.01' }).click();
    await keep.click();
  };
  await one(); await one();
  await page.getByText('everything is in the book').waitFor();
  await server.stop('SIGKILL'); // the connection is cut in the middle
  for (let i = 0; i < 4; i++) await one();
  check('readings go on without a connection', (await page.locator('.queue').innerText()).startsWith('4 readings'));
  await picture(page, 'lash-offline');
  server = await serve(book, port);
  await page.getByText('everything is in the book').waitFor({ timeout: 30000 });
  const shown = JSON.parse(execFileSync(program, ['build', 'show', '--book', book, '--json'], { encoding: 'utf8' }));
  const valves = shown.lash.map((r) => r.valve);
  check('nothing is lost and nothing doubled', valves.length === 6 && new Set(valves).size === 6 && read.every((v) => valves.includes(v)), valves);
  await page.reload();
  await page.locator('.valve').waitFor();
  check('and a reload sends nothing twice', JSON.parse(execFileSync(program, ['build', 'show', '--book', book, '--json'], { encoding: 'utf8' })).lash.length === 6);
  await page.close();
  await server.stop();
}

async function twoEdit(server) {
  const a = await open(), b = await open();
  for (const page of [a, b]) { await page.goto(`${server.address}#/engine`); await page.getByLabel('owner', { exact: true }).waitFor(); await page.waitForTimeout(400); }
  await b.getByLabel('owner', { exact: true }).fill('the second editor');
  await a.getByLabel('owner', { exact: true }).fill('the first editor');
  await a.getByRole('button', { name: 'Keep in the book' }).click();
  await a.getByText('The engine is kept').waitFor();
  await b.getByRole('button', { name: 'Keep in the book' }).click();
  await b.getByText('somebody else changed').waitFor();
  check('a conflict is shown, not lost', await b.getByLabel('owner', { exact: true }).inputValue() === 'the second editor');
  await b.getByRole('button', { name: 'Put mine over it' }).click();
  await b.getByText('The engine is kept').waitFor();
  await a.waitForFunction(() => [...document.querySelectorAll('input')].some((i) => i.value === 'the second editor'));
  check('the other sees it at once', true);
  await a.getByLabel('bore', { exact: true }).fill('3.4 psi');
  await a.getByText(/bore.*psi|psi.*length/).first().waitFor();
  check('a wrong unit is told at the field', true);
  await a.getByRole('button', { name: 'Undo' }).click();
  await a.close(); await b.close();
}

async function paint(server) {
  const page = await open();
  await page.goto(`${server.address}#/pulls?a=34`);
  await page.waitForFunction(() => performance.getEntriesByName('first-contentful-paint').length > 0);
  const first = await page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0].startTime);
  console.log(`first paint ${Math.round(first)} ms`);
  check('something is painted within a second', first < 1000, first);
  await page.close();
}

try {
  await firstMinute();
  const server = await serve(made.book);
  await screens(server);
  await keyboard(server);
  await live(server);
  await twoEdit(server);
  await paint(server);
  check('the server ends in order', await server.stop() === 0);
  await lash(made.book);
  check('the browser had nothing to complain of', problems.length === 0, problems.slice(0, 5));
} catch (problem) {
  failed++;
  console.log('FAILED:', problem.message);
} finally {
  await browser.close();
  for (const child of children) child.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
}
console.log(`[  PASSED  ] ${passed} test(s).`);
if (failed) console.log(`[  FAILED  ] ${failed} test(s).`);
process.exit(failed ? 1 : 0);
