// Addresses of what is not there, and no request that is refused by merely looking. No refusal names a command.
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

const COMMAND = /enginewright [a-z]|'(pull|build|book|engine|cell) [a-z]|(^|\s)--[a-z]/;

async function notThere(page, server) {
  for (const [address, says] of [['handover?engine=999', /999/], ['engine?engine=999', /engine '999'/i], ['engine?engine=zzz', /No such engine/]]) {
    await page.goto('about:blank');
    await page.goto(`${server.address}#/${address}`);
    await page.locator('.first').waitFor({ timeout: 10000 }).catch(() => 0);
    const text = await page.locator('main').innerText();
    check(`${address} says that there is none, and where to go`, says.test(text) && await page.locator('main a').count() > 0 && !/Gathering|Reading/.test(text), text.slice(0, 200));
    check(`${address}: without a command`, !COMMAND.test(text), text.slice(0, 200));
  }
  await axe(page, 'an engine that is not there');
  await picture(page, 'ways-no-engine');
  for (const path of ['curves?pulls=999', 'pulls/999/step-up', 'pulls/999/explain?speed_rpm=3000', 'sheet-pages?kind=report&engine=zzz', 'sheet-pages?kind=build&engine=zzz', 'report?pulls=1,99', 'handover?engine=zzz', 'attachments/999', 'devices', 'attachments?of=build:zzz']) {
    const { error } = await page.evaluate((p) => fetch('/api/v1/' + p).then((r) => r.json()), path);
    check(`${path} is refused without a command`, error && !COMMAND.test(error), error);
  }
}

async function nothingRefused(page, server) {
  const refused = [];
  /* Nothing was asked for half a second; the stream of events stays open all the while, so that a network that is idle never comes. */
  let asked_ms = 0;
  page.on('request', () => { asked_ms = Date.now(); });
  const quiet = async () => { for (let i = 0; i < 100 && Date.now() - asked_ms < 500; i++) await page.waitForTimeout(100); };
  page.on('response', (r) => { if (r.status() >= 400) refused.push(`${r.status()} ${r.url()}`); });
  for (const [screen, ready] of [['day', '.next-step'], ['live', '.heroes'], ['pulls', '.plot-box canvas'], ['engine', '.facts'], ['build', '.item, .first'], ['handover', '.sheets img'], ['shop', 'table.list'], ['window', '.heroes']]) {
    await page.goto(`${server.address}#/${screen}`);
    await page.locator(ready).first().waitFor({ timeout: 30000 });
    await quiet();
  }
  await page.goto(`${server.address}#/shop`);
  await page.getByText('Tablets and window screens').first().waitFor();
  await page.waitForTimeout(500);
  check('looking at a screen asks for nothing that is refused', refused.length === 0, refused);
}

export default async function nowhere() {
  const server = await serve(demoDay().book);
  const page = await open();
  page.home = server.address;
  await notThere(page, server);
  await nothingRefused(page, server);
  await page.context().close();
  await stopInOrder(server);
}
