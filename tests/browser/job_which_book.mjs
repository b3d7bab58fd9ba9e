// Two books of one file name at one address: what waits on a device for the first does not go into the second, says so, and goes
// when its own book is open again. What a book says no to stays on the device until somebody decides.
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, run, serve, stopInOrder } from './harness.mjs';

function newBook(place, recording) {
  mkdirSync(join(folder, place), { recursive: true });
  const book = join(folder, place, 'shop.book');
  run('book', 'new', '--shop', place, '--book', book);
  run('engine', 'add', 'examples/engines/hill-climb-six.yaml', '--book', book);
  run('pull', 'add', recording, '--book', book);
  return book;
}
const notes = (book) => ask('book', 'notes', '--book', book).notes.map((n) => n.text);

async function refusedStays(page, book) {
  await page.route('**/api/v1/notes?*', (route) => route.request().method() === 'POST' ? route.fulfill({ status: 400, contentType: 'application/json', body: '{"error":"note: not so"}' }) : route.continue());
  await page.getByLabel('Note').fill('refused at first');
  await page.locator('.line-form').getByRole('button', { name: 'Keep' }).first().click();
  await page.getByText('refused at first is not in the book: note: not so').waitFor();
  await page.reload();
  await page.getByText('refused at first is not in the book: note: not so').waitFor();
  check('a refused note is still there after a reload, with the reason', true);
  await page.unroute('**/api/v1/notes?*');
  await page.getByRole('button', { name: 'Try again: refused at first' }).click();
  await page.getByText('refused at first is not in the book').waitFor({ state: 'detached' });
  await page.waitForTimeout(300);
  check('and goes into the book when it is tried again', notes(book).includes('refused at first'), notes(book));
}

export default async function whichBook() {
  const recording = join(demoDay().recordings, 'run-13.csv'), first = newBook('first', recording), second = newBook('second', recording);
  let server = await serve(first);
  const page = await open({ viewport: { width: 400, height: 800 } });
  await page.goto(`${server.address}#/day`);
  await page.getByLabel('Note').waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await server.stop('SIGKILL');
  await page.getByLabel('Note').fill('of the first book');
  await page.locator('.line-form').getByRole('button', { name: 'Keep' }).first().click();
  const other = await serve(second, server.port);
  const line = page.getByText(/One entry waits on this device for the book shop\.book, which is another one than the book of that name/);
  await line.waitFor({ timeout: 20000 });
  check('an entry of another book says so', true);
  check('at 400 px it fits', await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await axe(page, 'an entry of another book');
  await picture(page, 'which-book');
  await page.getByLabel('Note').fill('of the second book');
  await page.locator('.line-form').getByRole('button', { name: 'Keep' }).first().click();
  await page.waitForFunction(() => !document.body.innerText.includes('not in the book yet'));
  check('what is of this book goes past it', notes(second).join() === 'of the second book', notes(second));
  await stopInOrder(other);
  server = await serve(first, server.port);
  await line.waitFor({ state: 'detached', timeout: 20000 });
  await page.waitForFunction(() => !document.body.innerText.includes('not in the book yet'));
  check('and the entry goes into its own', notes(first).join() === 'of the first book' && notes(second).length === 1, [notes(first), notes(second)]);
  await refusedStays(page, first);
  await page.close();
  await stopInOrder(server);
}
