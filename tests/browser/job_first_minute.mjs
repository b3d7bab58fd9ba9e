// An empty book, two files dropped anywhere, the answer in words; the command line is the peer for the answer.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, serve, stopInOrder } from './harness.mjs';

export default async function firstMinute() {
  const made = demoDay();
  const book = join(folder, 'new.book');
  const server = await serve(book, 0, false);
  const page = await open();
  await page.context().clearCookies();
  await page.goto(server.address);
  await page.getByRole('heading', { name: 'Open the link that' }).waitFor();
  await axe(page, 'the door of this machine');
  await picture(page, 'door');
  await page.goto(server.link.replace(/.$/, (last) => last === '0' ? '1' : '0'));
  await page.getByText('this link is from an earlier start').waitFor();
  check('a wrong key opens nothing, and leaves the address bar', !page.url().includes('key='), page.url());
  await page.goto(server.link);
  await page.getByText('Was that better?').waitFor();
  check('the printed link opens the page, and its key leaves the address bar', !page.url().includes('key='), page.url());
  await page.goto('about:blank');
  await page.goto(server.address);
  await page.getByText('Was that better?').waitFor();
  check('and the browser keeps it', (await page.context().cookies()).every((c) => c.httpOnly && c.sameSite === 'Strict'));
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
  const line = ask('compare', '1', '2', '--book', book, '--no-keep');
  check('with the words of the command line', text.replaceAll('\u2212', '-').includes(line.says), [text, line.says]);
  await page.getByRole('button', { name: 'Take back' }).click();
  await page.getByText('Taken back').waitFor();
  check('and can be taken back', true);
  await page.close();
  await stopInOrder(server);
}
