// The valve events on the Engine screen: the figures of `engine check --json`, drawn and told in words.
import { ask, axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

export default async function valveEvents() {
  const server = await serve(demoDay().book);
  const page = await open();
  await page.goto(`${server.address}#/engine?part=cam`);
  await page.locator('.valve-events svg').first().waitFor();
  const told = (await page.locator('.valve-events figcaption').allInnerTexts()).join(' ').replaceAll('\u202f', ' ');
  const peer = ask('engine', 'check', 'examples/engines/hill-climb-six.yaml').valve_events_deg;
  for (const e of Object.values(peer))
    check('the events are those of the command line', told.includes(`inlet opens ${Math.round(e.inlet_opens_btdc)}° before`) && told.includes(`overlap ${Math.round(e.overlap)}°`), [told, e]);
  check('both lifts are drawn', await page.locator('.valve-events').count() === Object.keys(peer).length);
  await page.locator('.valve-events').first().scrollIntoViewIfNeeded();
  await picture(page, 'valve-events');
  await axe(page, 'the engine with its valve events');
  await page.getByLabel('inlet centreline', { exact: true }).fill('110 deg');
  await page.waitForFunction((before) => [...document.querySelectorAll('.valve-events figcaption')].map((f) => f.textContent).join(' ') !== before, (await page.locator('.valve-events figcaption').allTextContents()).join(' '));
  check('the diagram follows what is typed', true);
  await page.close();
  await stopInOrder(server);
}
