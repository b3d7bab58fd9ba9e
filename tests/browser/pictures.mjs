// Makes the pictures of the manual from the page and the sheets: every screen and view, light and dark, on the demo day.
// pictures.mjs PROGRAM FOLDER. Not a test; script/pictures runs it.
import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { ask, browser, end, folder, letIn, program, run, serve } from './harness.mjs';

const into = process.argv[3];
mkdirSync(into, { recursive: true });
const small = (path) => execFileSync('pngquant', ['--force', '--speed', '1', '--strip', '--output', path, '64', '--', path]);

// the demo day, its engine with the build record of the examples, and a few notes
const made = ask('demo', '--folder', join(folder, 'day'));
const book = made.book;
run('book', 'export', join(folder, 'open'), '--book', book);
writeFileSync(join(folder, 'engine.yaml'), readFileSync(join(folder, 'open', 'engine-1.yaml')));
cpSync('examples/build', join(folder, 'build'), { recursive: true });
const record = join(folder, 'build', 'hill-climb-six.yaml');
writeFileSync(record, readFileSync(record, 'utf8').replace(/^engine_file:.*$/m, 'engine_file: ../engine.yaml'));
run('build', 'load', record, '--book', book);
run('book', 'note', 'drip at the rear main seal: wiped, dry since', '--book', book);

// name, address, what shows that it is there
const views = [
  ['day', 'day', '.next-step'],
  ['pulls', 'pulls?a=17,19&b=18', '.verdict-line'],
  ['pulls-many', 'pulls?a=26,30,33,34,35&b=29,31', '.plot-box canvas'],
  ['pulls-sweep', 'pulls?a=11,12,17,20,25&view=sweep', '.plot-box canvas'],
  ['pulls-limit', 'pulls?a=7&view=limit', '.verdict-line'],
  ['pulls-channels', 'pulls?a=12&view=channels', '.plot-box canvas'],
  ['pulls-method', 'pulls?a=17&b=18&view=method', '.fields'],
  ['engine', 'engine', '.facts'],
  ['predict', 'predict', '.stage-fine'],
  ['search', 'search', '.search fieldset'],
  ['build', 'build', '.item'],
  ['lash', 'lash', '.lash'],
  ['handover', 'handover', 'img'],
  ['shop', 'shop', 'table.list'],
];
const phone = { lash: { width: 400, height: 800 } };

async function keep(page, name) {
  const path = join(into, name + '.png');
  await page.screenshot({ path });
  small(path);
}

async function at(scheme, size = { width: 1200, height: 750 }) {
  const context = await letIn(await browser.newContext({ viewport: size, colorScheme: scheme, reducedMotion: 'reduce' }));
  return context.newPage();
}

async function still(server, scheme) {
  for (const [name, address, ready] of views) {
    const page = await at(scheme, phone[name]);
    await page.goto(`${server.address}#/${address}`);
    await page.locator(ready).first().waitFor({ timeout: 60000 });
    await page.waitForFunction(() => !/(Looking|Reading|Asking|Making|following|refining)[^.]*(…|, \d+)/.test(document.body.innerText), null, { timeout: 60000 });
    await page.waitForTimeout(900);
    await keep(page, `page-${name}-${scheme}`);
    await page.context().close();
  }
}

const control = (page, line) => page.evaluate((text) => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ line: text }) }), line);

// live: one session, seen light and dark, then with an alarm
async function live(server) {
  const pages = { light: await at('light'), dark: await at('dark') }, watch = { light: await at('light'), dark: await at('dark') };
  for (const scheme of ['light', 'dark']) {
    await pages[scheme].goto(`${server.address}#/live`);
    await watch[scheme].goto(`${server.address}#/window`);
  }
  await pages.light.getByLabel('Source').first().fill('practice:?rate=50&run=oil 90;coolant 80;wait 1;sweep 2500 6500 300;wait 600');
  await pages.light.getByRole('button', { name: 'Begin recording' }).click();
  await pages.light.waitForFunction(() => Number((document.querySelector('.hero-value')?.textContent ?? '').replace(',', '')) > 5200, null, { timeout: 60000 });
  for (const scheme of ['light', 'dark']) {
    await keep(pages[scheme], `page-live-${scheme}`);
    await keep(watch[scheme], `page-window-${scheme}`);
  }
  await pages.light.getByText(/pull \d+: /).first().waitFor({ timeout: 60000 });
  await control(pages.light, 'send fault oil-pump');
  await control(pages.light, 'send sweep 2500 6500 900');
  for (const scheme of ['light', 'dark']) {
    await pages[scheme].locator('.alarm').first().waitFor({ timeout: 60000 });
    await keep(pages[scheme], `page-alarm-${scheme}`);
  }
  await pages.light.getByRole('button', { name: 'Stop recording' }).click();
  await pages.light.waitForTimeout(1500);
}

function sheet(kind) {
  const file = join(folder, kind + '.pdf'), stem = join(folder, 'sheet-' + kind);
  run('sheet', kind, '--book', book, '--out', file);
  execFileSync('pdftoppm', ['-png', '-singlefile', '-r', '75', '-f', '1', '-l', '1', file, stem]);
  const path = join(into, `sheet-${kind}.png`);
  writeFileSync(path, readFileSync(stem + '.png'));
  small(path);
}

try {
  const empty = await serve(join(folder, 'empty.book'));
  for (const scheme of ['light', 'dark']) {
    const page = await at(scheme);
    await page.goto(empty.address);
    await page.getByText('Was that better?').waitFor();
    await page.waitForTimeout(300);
    await keep(page, `page-first-${scheme}`);
  }
  await empty.stop();
  const server = await serve(book);
  await still(server, 'light');
  await still(server, 'dark');
  for (const kind of ['report', 'day', 'build', 'lash', 'degree', 'care', 'dispatch', 'valves']) sheet(kind);
  await live(server); // last: it adds pulls
  await server.stop();
} finally {
  await end();
}
