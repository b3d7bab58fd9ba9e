// Photos and files taken while the server is out of reach: kept on the device although the page is closed, sent once when the
// server is back, never twice, never into another book; a refused one stays with its reason until somebody decides.
// Outside source: SHA-256 as Node's own crypto (OpenSSL) computes it.
import { createHash } from 'node:crypto';
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, problems, run, serve, stopInOrder } from './harness.mjs';

const photo = 'docs/pictures/report.png';
const sha256 = (path) => createHash('sha256').update(readFileSync(path)).digest('hex');
const inBook = (book) => ask('book', 'attached', '--all', '--book', book).attachments;
const waits = (page, words) => page.locator('.photos [role=status]', { hasText: words }).waitFor();
const isPost = (request) => request.method() === 'POST' && request.url().includes('/api/v1/attachments?');
const kept = (page) => page.evaluate(() => new Promise((resolve, reject) => {
  const request = indexedDB.open('unsent', 1);
  request.onerror = () => reject(request.error);
  request.onsuccess = () => {
    const all = request.result.transaction('files').objectStore('files').getAll();
    all.onsuccess = () => { request.result.close(); resolve(all.result.map((f) => f.name)); };
  };
}));
const file = (name, text) => { const path = join(folder, name); writeFileSync(path, text); return path; };
const choose = (page, path) => page.locator('.photos input[multiple]').setInputFiles(path);
const inBookSoon = (page, name) => page.locator('.photos').getByRole('button', { name: `Take back: ${name}` }).waitFor({ timeout: 30000 });
async function another(page, address) {
  const next = await page.context().newPage();
  next.on('pageerror', (e) => problems.push(e.message));
  await next.goto(address);
  return next;
}

async function pageClosed(book, server) {
  let page = await open();
  const address = `${server.address}#/day`;
  await page.goto(address);
  await page.locator('.photos').waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await server.stop('SIGKILL');
  await page.locator('.photos').getByLabel('What it shows').fill('plug of cylinder 4');
  await page.locator('.photos input[capture]').setInputFiles(photo);
  await waits(page, 'One file is waiting on this device until the book has it');
  await axe(page, 'a day with a photo that waits');
  await picture(page, 'photo-waits');
  check('nothing asks to stay on a page that keeps its files', await page.evaluate(() => dispatchEvent(new Event('beforeunload', { cancelable: true }))));
  const closed = page;
  page = await another(closed, address);
  await closed.close();
  await page.getByText(/One file is waiting on this device/).first().waitFor();
  check('the photo is still there in another page', (await kept(page)).join() === 'report.png', await kept(page));
  let posts = 0;
  page.context().on('request', (request) => { if (isPost(request)) posts++; });
  const second = await another(page, address);
  await second.getByText(/One file is waiting on this device/).first().waitFor();
  const back = await serve(book, server.port);
  await inBookSoon(page, 'report.png');
  await inBookSoon(second, 'report.png');
  const list = inBook(book);
  check('the book has it once, as it was taken', list.length === 1 && list[0].sha256 === sha256(photo) && list[0].note === 'plug of cylinder 4' && list[0].belongs === 'day' && list[0].place, list);
  check('with when it was taken, before the book got it', list[0].taken_at && list[0].taken_at < list[0].at, [list[0].taken_at, list[0].at]);
  await page.waitForFunction(() => !document.querySelector('.photos .queue'));
  check('nothing waits any more', (await kept(page)).length === 0, await kept(page));
  check('of two pages one sent it, once', posts === 1, posts);
  await second.close();
  return [page, back];
}

async function answerLost(page, book) {
  const path = file('lost.txt', 'the answer to this is lost');
  let arrived = 0;
  await page.route('**/api/v1/attachments?*', async (route) => {
    if (!isPost(route.request())) return route.continue();
    const response = await route.fetch();
    arrived += response.ok();
    return arrived < 2 ? route.abort('connectionreset') : route.fulfill({ response });
  });
  await choose(page, path);
  await waits(page, 'One file is waiting');
  await page.waitForFunction(() => !document.querySelector('.photos .queue'), null, { timeout: 30000 });
  await page.unroute('**/api/v1/attachments?*');
  const list = inBook(book).filter((a) => a.name === 'lost.txt');
  check('a file whose answer was lost is sent again and kept once', arrived === 2 && list.length === 1, [arrived, list]);
}

async function refusedAndHeld(page, book) {
  await choose(page, file('empty.txt', ''));
  const line = page.locator('.photos .unsent li');
  await line.filter({ hasText: 'empty.txt is not in the book' }).waitFor();
  check('what was refused says why', /empty/.test((await line.innerText()).split(':').slice(1).join(':')), await line.innerText());
  await axe(page, 'a refused file');
  await picture(page, 'file-refused');
  await page.setViewportSize({ width: 360, height: 740 });
  check('a refused file fits 360 px', await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await line.scrollIntoViewIfNeeded();
  await picture(page, 'file-refused-narrow');
  await page.setViewportSize({ width: 1440, height: 900 });
  await page.reload();
  await line.waitFor();
  check('and is still there after a reload', (await kept(page)).join() === 'empty.txt');
  await page.getByRole('button', { name: 'Let go: empty.txt' }).click();
  await line.waitFor({ state: 'detached' });
  await page.locator('.said').getByRole('button').first().click();
  await line.waitFor();
  check('letting go can be undone', (await kept(page)).join() === 'empty.txt');
  await page.getByRole('button', { name: 'Let go: empty.txt' }).click();
  await line.waitFor({ state: 'detached' });
  check('it is not in the book', inBook(book).every((a) => a.name !== 'empty.txt') && (await kept(page)).length === 0);
}

async function otherBook(page, book, server) {
  await stopInOrder(server);
  await choose(page, file('held.txt', 'of the first book'));
  await waits(page, 'One file is waiting');
  const other = join(folder, 'another.book');
  copyFileSync(book, other);
  const before = inBook(other).length;
  const wrong = await serve(other, server.port);
  await page.locator('.photos .unsent li').filter({ hasText: 'another.book is open' }).waitFor({ timeout: 30000 });
  await stopInOrder(wrong);
  check('a file does not go into another book', inBook(other).length === before, inBook(other));
  const right = await serve(book, server.port);
  await page.getByRole('button', { name: 'Try again: held.txt' }).click();
  await inBookSoon(page, 'held.txt');
  check('and goes into its own', inBook(book).filter((a) => a.name === 'held.txt').length === 1);
  return right;
}

async function keepsNothing(book, server) {
  const page = await open();
  await page.addInitScript(() => { indexedDB.open = () => { throw new Error('not allowed here'); }; });
  await page.goto(`${server.address}#/day`);
  await page.locator('.photos').waitFor();
  await server.stop('SIGKILL');
  await choose(page, file('loose.txt', 'a browser that keeps nothing'));
  await waits(page, 'One file is waiting in this page until the server answers: leave the page open');
  check('a page that cannot keep its files asks to stay', !await page.evaluate(() => dispatchEvent(new Event('beforeunload', { cancelable: true }))));
  const back = await serve(book, server.port);
  await inBookSoon(page, 'loose.txt');
  check('and sends them all the same', inBook(book).filter((a) => a.name === 'loose.txt').length === 1);
  await page.context().close();
  return back;
}

export default async function unsent() {
  const book = demoDay().book;
  let server = await serve(book), page;
  [page, server] = await pageClosed(book, server);
  await answerLost(page, book);
  await refusedAndHeld(page, book);
  server = await otherBook(page, book, server);
  run('book', 'verify', '--book', book);
  await page.context().close();
  server = await keepsNothing(book, server);
  await stopInOrder(server);
}
