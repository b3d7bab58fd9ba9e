// Lash at the engine on a 400 px tablet, with the server killed in the middle: nothing lost, nothing doubled.
import { ask, check, demoDay, open, picture, serve } from './harness.mjs';

export default async function lash() {
  const book = demoDay().book;
  let server = await serve(book);
  const port = server.port;
  const page = await open({ viewport: { width: 400, height: 800 }, hasTouch: true });
  await page.goto(`${server.address}#/build`);
  await page.getByRole('button', { name: 'Begin the record' }).click();
  await page.getByRole('heading', { name: 'Checklists' }).waitFor();
  await page.goto(`${server.address}#/lash`);
  await page.locator('.valve').waitFor();
  const small = await page.evaluate(() => [...document.querySelectorAll('.lash-pad button, .lash-keep, .lash-walk button, .lash-head button')].filter((b) => b.getBoundingClientRect().height < 44).length);
  check('targets are for thumbs', small === 0, small);
  const keep = page.getByRole('button', { name: 'Keep, next valve' });
  check('nothing stands as read before somebody reads', /– –/.test(await page.locator('.lash-value').innerText()) && await keep.isDisabled(), await page.locator('.lash-value').innerText());
  await page.getByRole('button', { name: /^It reads/ }).click();
  check('what it should be can be said to be read, in one press of its own', /\d/.test(await page.locator('.lash-value').innerText()) && await keep.isEnabled());
  await page.getByRole('button', { name: 'Skip' }).click();
  await page.getByRole('button', { name: 'Back' }).click();
  check('a valve that was skipped has no reading', await keep.isDisabled());
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
  const shown = ask('build', 'show', '--book', book);
  const valves = shown.lash.map((r) => r.valve);
  check('nothing is lost and nothing doubled', valves.length === 6 && new Set(valves).size === 6 && read.every((v) => valves.includes(v)), valves);
  await page.reload();
  await page.locator('.valve').waitFor();
  check('and a reload sends nothing twice', ask('build', 'show', '--book', book).lash.length === 6);
  await page.close();
  await server.stop();
}
