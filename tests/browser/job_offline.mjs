// A reload at the engine while the server is gone: the page comes from the device, lash goes on, nothing is lost or doubled;
// and a server that answers is always asked first, so that an upgraded program's page is shown and not a kept one.
import { createServer } from 'node:http';
import { ask, check, demoDay, open, run, serve } from './harness.mjs';

const ready = (page) => page.evaluate(() => navigator.serviceWorker.ready.then(() => true));

export default async function offline() {
  const book = demoDay().book;
  run('build', 'start', '--book', book);
  let server = await serve(book);
  const { port, address } = server;
  const page = await open({ viewport: { width: 400, height: 800 }, hasTouch: true });
  await page.goto(`${address}#/lash`);
  await page.locator('.valve').waitFor();
  check('the page may be loaded without its server', await ready(page));
  const read = [];
  const one = async () => {
    read.push(await page.locator('.valve').innerText());
    await page.getByRole('button', { name: 'more by 0.01', exact: true }).click();
    await page.getByRole('button', { name: 'Keep, next valve' }).click();
  };
  await one();
  await page.getByText('everything is in the book').waitFor();
  await server.stop('SIGKILL');
  await one();
  await page.reload();
  await page.locator('.valve').waitFor();
  check('a reload without the server shows the valves', /inlet|exhaust/.test(await page.locator('.valve').innerText()));
  check('what was read before is still kept', (await page.locator('.queue').innerText()).startsWith('1 reading'), await page.locator('.queue').innerText());
  await page.getByText(/was kept on this device at \d\d:\d\d UTC/).waitFor();
  check('and it is said that this was kept, and when', true);
  await page.getByRole('button', { name: 'Skip' }).click();
  await page.getByRole('button', { name: 'Skip' }).click();
  await one();
  await one();
  check('readings go on', (await page.locator('.queue').innerText()).startsWith('3 readings'));
  server = await serve(book, port);
  await page.getByText('everything is in the book').waitFor({ timeout: 30000 });
  const lash = ask('build', 'show', '--book', book).lash.map((r) => r.valve);
  check('nothing is lost and nothing doubled', lash.length === 4 && new Set(lash).size === 4 && read.every((v) => lash.includes(v)), [lash, read]);
  await page.waitForFunction(() => !document.body.innerText.includes('was kept on this device'));
  check('and nothing is called kept any more', true);
  await server.stop();
  const other = createServer((request, response) => {
    response.setHeader('Content-Type', request.url === '/' ? 'text/html' : 'text/plain');
    response.end(request.url === '/' ? '<!doctype html><title>new</title><p>another program</p>' : '');
  });
  await new Promise((done) => other.listen(port, '127.0.0.1', done));
  await page.goto(address);
  await page.getByText('another program').waitFor();
  check('what the server gives now is shown, not what was kept', true);
  const kept = await page.evaluate(async () => (await (await caches.open('page-files')).keys()).map((r) => new URL(r.url).pathname));
  check('nothing of the interface is kept', kept.every((p) => !p.startsWith('/api')), kept);
  await page.close();
  await new Promise((done) => { other.closeAllConnections(); other.close(done); });
}
