// An empty book: a file chosen, an engine begun, the invented day by the very words that the page shows, and every screen
// with nothing in the book.
// Outside source: none; the command line is the peer for the words shown.
import { execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdirSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, program, serve, stopInOrder } from './harness.mjs';

async function demoAsShown(page) {
  const shown = (await page.locator('.ways pre').innerText()).replaceAll('\\\n', ' ').split('\n').map((line) => line.trim().split(/\s+/));
  const place = join(folder, 'first-use');
  mkdirSync(place);
  check('two commands are shown, of this program', shown.length === 2 && shown.every(([name]) => name === 'enginewright'), shown);
  execFileSync(resolve(program), shown[0].slice(1), { cwd: place });
  const book = shown[1][shown[1].indexOf('--book') + 1];
  check('the first makes the book that the second opens', existsSync(join(place, book)), book);
  const child = spawn(resolve(program), [...shown[1].slice(1), '--port', '0', '--json'], { cwd: place, stdio: ['ignore', 'pipe', 'inherit'] });
  const said = JSON.parse(String(await new Promise((done) => child.stdout.once('data', done))));
  await page.goto(`${said.address}#/day`);
  await page.locator('.next-step').waitFor();
  check('and the day stands there', /\S/.test(await page.locator('.next-step').innerText()));
  const code = await new Promise((done) => { child.once('exit', (number, by) => done(number ?? by)); child.kill('SIGTERM'); });
  check('it ends in order', code === 0, code);
}

async function emptyScreens(page, address) {
  for (const screen of ['day', 'live', 'pulls', 'pulls?view=sweep', 'pulls?view=method', 'engine', 'predict', 'build', 'lash', 'handover', 'shop', 'window']) {
    await page.goto('about:blank');
    await page.goto(`${address}#/${screen}`);
    await page.locator('main h1').first().waitFor({ state: 'attached', timeout: 8000 }).catch(() => {});
    await page.waitForTimeout(300);
    const words = await page.locator('main').innerText();
    check(`${screen} of an empty book says something`, words.trim().length > 20, words);
    const grave = await page.locator('.said.grave').allInnerTexts();
    check(`${screen} of an empty book complains of nothing`, grave.length === 0, grave);
    check(`${screen} of an empty book has a heading`, await page.locator('main h1').count() === 1, words.slice(0, 80));
    await axe(page, `${screen} of an empty book`);
    await picture(page, `empty-${screen.replace('?view=', '-')}`);
  }
}

/* One button: the same pulls as the command's, the page on them, and no second time. */
async function demoInPlace(page, made) {
  const book = join(folder, 'first-use-3.book'), server = await serve(book);
  await page.goto(`${server.address}#/day`);
  await page.getByRole('button', { name: 'Run an invented day here' }).click();
  await page.locator('.next-step').waitFor({ timeout: 60000 });
  await page.getByText(/An invented day of \d+ pulls is in this book/).waitFor();
  const pulls = (of) => ask('pull', 'list', '--book', of).pulls.map((p) => p.band_mean_torque_n_m).join();
  check('one button runs the same day as the command', pulls(book) === pulls(made.book));
  await page.goto(`${server.address}#/shop`);
  await page.getByRole('heading', { name: 'Weir Lane Engines' }).waitFor();
  const again = await page.evaluate(async () => (await fetch('/api/v1/demo', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' })).status);
  check('and not in a book that holds work', again === 400, again);
  await page.goto('about:blank');
  await stopInOrder(server);
}

export default async function firstUse() {
  const made = demoDay(), server = await serve(join(folder, 'first-use.book'));
  const page = await open();
  await emptyScreens(page, server.address);
  await page.goto(`${server.address}#/day`);
  await page.getByRole('link', { name: 'Begin an engine' }).click();
  await page.getByLabel('name', { exact: true }).fill('First of the shop');
  await page.getByLabel('bore', { exact: true }).fill('3.386 in');
  await page.getByRole('button', { name: 'Keep in the book' }).click();
  await page.getByText('The engine is kept in the book.').waitFor();
  check('an engine is begun from the empty page', true);
  await page.goto(`${server.address}#/day`);
  await page.locator('input[type=file]').setInputFiles(join(made.recordings, 'run-13.csv'));
  await page.locator('.plot-box').first().waitFor();
  check('a file is chosen, and its curve stands there', (await page.locator('.said').first().innerText()).includes('One pull'));
  await page.goto('about:blank');
  await stopInOrder(server);
  const other = await serve(join(folder, 'first-use-2.book'));
  await page.goto(other.address);
  await page.getByText('Was that better?').waitFor();
  await demoAsShown(page);
  await demoInPlace(page, made);
  await page.close();
  await stopInOrder(other);
}
