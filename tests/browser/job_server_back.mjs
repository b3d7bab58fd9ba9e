// The server is killed in a pull and started again, on the same book: the page left open says what the server then says, offers to
// begin, and not "recording" beside "no data"; the pull's rows are kept, and another recording begins from the page.
import { check, demoDay, open, serve, stopInOrder } from './harness.mjs';

const figures = (page) => page.waitForFunction(() => /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''), null, { timeout: 30000 });
const send = (page, line) => page.evaluate((line) => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ line }) }), line);

async function begin(page) {
  await page.getByLabel('Source').fill('practice:?rate=50&run=oil 90;coolant 80;wait 600');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await figures(page);
}

export default async function serverBack() {
  const book = demoDay().book;
  let server = await serve(book);
  const page = await open();
  await page.goto(`${server.address}#/live`);
  await begin(page);
  await send(page, 'send sweep 2500 6500 300');
  await page.getByText('A pull is under way', { exact: false }).waitFor({ timeout: 30000 });
  await server.stop('SIGKILL');
  server = await serve(book, server.port);
  await page.getByRole('button', { name: 'Begin recording' }).waitFor({ timeout: 20000 });
  const says = await page.locator('.live').innerText();
  check('nothing says that it records, or that it lacks data', !/NO DATA|Pulls are armed|Stop recording/.test(says), says.slice(0, 300));
  check('what was cut short is said, with what is kept of it', /was cut short: [\d,]+ rows are kept/.test(says), says.slice(0, 600));
  await begin(page);
  await page.getByRole('button', { name: 'Stop recording' }).waitFor();
  const told = await page.evaluate(() => fetch('/api/v1/live').then((r) => r.json())).then((l) => l.news.filter((n) => n.news.event === 'recovered').map((n) => n.text));
  check('another recording begins, and says which one was cut short', told.length === 1 && /was cut short/.test(told[0]), told);
  await page.reload();
  await figures(page);
  check('a page loaded in the middle of it is live at once', await page.getByRole('button', { name: 'Stop recording' }).isVisible());
  await page.getByRole('button', { name: 'Stop recording' }).click();
  await page.getByRole('button', { name: 'Begin recording' }).waitFor();
  await page.close();
  await stopInOrder(server);
}
