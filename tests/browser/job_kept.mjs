// What a screen shows without its server: the last answers that this device kept, said to be old, since when and of which book;
// never beside fresh ones as if they were, never of another book, and nothing of a device that is not paired any more.
import { join } from 'node:path';
import { axe, check, demoDay, folder, open, picture, run, serve } from './harness.mjs';

const banner = (page) => page.locator('.said.grave', { hasText: 'was kept on this device at' }).first();
const marked = (page) => page.locator('main.old').count();
const SCREENS = [
  ['day', '.next-step', /Next sensible step/], ['pulls', '.list-turn', /The server works out curves and answers; they are not kept/],
  ['engine', '.facts', /As this device kept it/], ['handover', '.views a', /this device has kept none/],
];
const keptKeys = (page) => page.evaluate(() => Object.keys(localStorage).filter((k) => k.startsWith('kept-')));

async function seenWith(page, address) {
  for (const [screen, ready] of SCREENS) {
    await page.goto(`${address}#/${screen}`);
    await page.locator(ready).first().waitFor();
    await page.waitForTimeout(700);
    check(`${screen}: what the server says is not called kept`, await banner(page).count() === 0 && await marked(page) === 0);
  }
}

async function seenWithout(page, address) {
  for (const [screen, ready, says] of SCREENS) {
    await page.goto('about:blank');
    await page.goto(`${address}#/${screen}`);
    await page.locator(ready).first().waitFor({ timeout: 15000 });
    await banner(page).waitFor({ timeout: 15000 });
    const words = await banner(page).innerText();
    check(`${screen}: it is said to be old, since when and whose`, /at \d\d:\d\d UTC/.test(words) && /from the book demo\.book \(Weir Lane Engines\)/.test(words), words);
    check(`${screen}: and the page is marked`, await marked(page) === 1);
    await page.waitForFunction((source) => new RegExp(source).test(document.body.innerText), says.source, { timeout: 15000 }).catch(() => {});
    check(`${screen}: and says what cannot be kept`, says.test(await page.locator('body').innerText()), await page.locator('main').innerText().then((t) => t.slice(0, 300)));
    check(`${screen}: no curve and no sheet is drawn of old answers`, await page.locator('.work .plot-box, .sheets img').count() === 0);
    await axe(page, `${screen} as it was kept`);
    await picture(page, `kept-${screen}`);
  }
  check('downloads are not offered', await page.getByRole('link', { name: /PDF/ }).count() === 0);
}

async function editedWithout(page, address) {
  await page.goto(`${address}#/engine`);
  await page.locator('.facts').first().waitFor();
  await page.getByLabel('bore', { exact: true }).fill('90 mm');
  await page.getByText('Figures follow when the server answers again.').first().waitFor();
  check('figures of before do not stand beside an edit', await page.locator('.follows .facts').count() === 0);
}

async function otherBook(page, address, port) {
  const book = join(folder, 'elsewhere', 'demo.book');
  run('book', 'new', '--shop', 'Another shop', '--book', book);
  const server = await serve(book, port);
  await page.goto('about:blank');
  await page.goto(`${address}#/day`);
  await page.getByText('Was that better?').waitFor({ timeout: 15000 });
  // answers are written when the page has nothing else to do
  await page.waitForFunction(() => Object.entries(localStorage).some(([k, v]) => k.startsWith('kept-') && v.includes('Another shop')), undefined, { timeout: 15000 });
  const kept = await page.evaluate(() => Object.entries(localStorage).filter(([k]) => k.startsWith('kept-')).map(([k, v]) => [k, v.includes('hill-climb')]));
  check('nothing of the book before is kept beside another', kept.every(([, of]) => !of), kept);
  await server.stop('SIGKILL');
  await page.reload();
  await banner(page).waitFor({ timeout: 15000 });
  check('and nothing of it is shown', !/hill-climb/.test(await page.locator('body').innerText()) && /\(Another shop\)/.test(await banner(page).innerText()));
}

async function revoked(page, address) {
  await page.goto(`${address}#/day`);
  await page.locator('.next-step').waitFor();
  check('answers are kept while it may look', (await keptKeys(page)).length > 1, await keptKeys(page));
  await page.route('**/api/v1/**', (route) => route.fulfill({ status: 401, contentType: 'application/json', body: '{"error":"this device is not paired"}' }));
  await page.reload();
  await page.getByRole('heading', { name: 'Open the link that' }).waitFor();
  check('a browser whose rights were taken keeps nothing', (await keptKeys(page)).length === 0, await keptKeys(page));
}

export default async function kept() {
  const book = demoDay().book;
  let server = await serve(book);
  const { port, address } = server, page = await open({ viewport: { width: 900, height: 1000 } });
  await page.goto(address);
  await page.locator('.next-step').waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await seenWith(page, address);
  await page.goto('about:blank');
  await page.goto(`${address}#/day`); /* begun anew at another screen: what was kept before is kept still */
  await page.locator('.next-step').waitFor();
  await server.stop('SIGKILL');
  await seenWithout(page, address);
  await editedWithout(page, address);
  server = await serve(book, port);
  await page.goto(`${address}#/day`);
  await page.waitForFunction(() => !document.querySelector('main.old') && !document.body.innerText.includes('was kept on this device') && document.querySelector('.next-step'), null, { timeout: 20000 });
  check('when the server answers again nothing is called kept', true);
  await server.stop();
  await otherBook(page, address, port);
  server = await serve(book, port);
  await revoked(page, address);
  await page.close();
  await server.stop();
}
