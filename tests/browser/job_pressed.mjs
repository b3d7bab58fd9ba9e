// A press is of what lay under the finger when it came down: an alarm that comes while a finger is on a button moves what stands on the screen, and neither eats the
// press nor gives it to another. Stop and shut down do not move at all. A source put together field by field, on a window, a tablet and a phone.
import { check, demoDay, logger, open, serve, stopInOrder } from './harness.mjs';

const FIGURES = { 'Engine Speed [rpm]': 3210, 'Torque [N·m]': 1, 'Oil Pressure [bar]': 3 };
const form = (page) => page.locator('.source-form');
const field = (page, name) => form(page).locator('label', { has: page.locator(`span:text-is("${name}")`) }).locator('input').first();
const middle = async (place) => { const b = await place.boundingBox(); return [b.x + b.width / 2, b.y + b.height / 2]; };

async function begin(page, source) {
  await page.getByRole('button', { name: /field by field/ }).click();
  await form(page).getByLabel('Kind').first().selectOption('tcp');
  await field(page, 'host').fill('127.0.0.1');
  await field(page, 'port').fill(source.split(':').at(-1));
  await form(page).getByRole('button', { name: 'Check it and take it' }).click();
  await form(page).waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.waitForFunction(() => document.querySelector('.hero-value')?.textContent === '3,210', null, { timeout: 15000 });
}

/* A finger, or a mouse, that comes down, and goes up again after what happens meanwhile. */
async function press(page, at, meanwhile, slide = 0) {
  const touch = await page.evaluate(() => navigator.maxTouchPoints > 0), client = touch && await page.context().newCDPSession(page), [x, y] = at;
  const finger = (type, points) => client.send('Input.dispatchTouchEvent', { type, touchPoints: points });
  if (touch) await finger('touchStart', [{ x, y }]);
  else { await page.mouse.move(x, y); await page.mouse.down(); }
  await meanwhile();
  if (touch) { if (slide) await finger('touchMove', [{ x, y: y - slide }]); await finger('touchEnd', []); }
  else { if (slide) await page.mouse.move(x, y - slide); await page.mouse.up(); }
  await page.waitForTimeout(500);
}

const alarm = (page) => page.locator('[data-alarm="no data"]');
const places = (page) => page.evaluate(() => ['.stop', '.shut-down'].map((one) => Math.round(document.querySelector(one).getBoundingClientRect().top)));

async function device(server, name, options) {
  const source = await logger(20, FIGURES), page = await open(options), asked = [];
  page.on('request', (r) => { if (/live\/(stop|control)$/.test(r.url())) asked.push(r.url().split('/').at(-1) + ' ' + (JSON.parse(r.postData() ?? '{}').line ?? '')); });
  await page.goto(`${server.address}#/live`);
  await begin(page, source.source);

  /* What the alarm moves: the button in the middle of the page. */
  const byHand = page.getByRole('button', { name: /Begin a pull by hand/ });
  await page.evaluate(() => { document.querySelector('#main').style.paddingTop = '0px'; });
  await byHand.evaluate((one) => { one.scrollIntoView({ block: 'center' }); });
  const shift = () => page.evaluate(() => { document.querySelector('#main').style.paddingTop = '180px'; });
  await press(page, await middle(byHand), shift);
  check(`${name}: a button that moved under the finger was pressed, and nothing else`, asked.join() === 'control begin', asked);
  await page.evaluate(() => { document.querySelector('#main').style.paddingTop = ''; });
  await page.locator('.live-curve').waitFor();
  asked.length = 0;
  const end = page.getByRole('button', { name: /^End it/ });
  await end.evaluate((one) => { one.scrollIntoView({ block: 'center' }); });
  await press(page, await middle(end), () => {}, 120);
  check(`${name}: a finger that slid away pressed nothing`, asked.length === 0, asked);
  await end.click();
  await page.evaluate(() => { scrollTo(0, 0); });
  await page.waitForFunction(() => !document.querySelector('.fresh.pull'), null, { timeout: 10000 });
  await page.waitForTimeout(3000);
  asked.length = 0;

  const before = await places(page);
  await press(page, await middle(page.locator('.stop')), async () => { source.silence(true); await alarm(page).waitFor({ timeout: 20000 }); check(`${name}: the alarm has not moved Stop and shut down`, (await places(page)).join() === before.join(), [before, await places(page)]); });
  check(`${name}: Stop with the first press, though the device fell silent under it`, asked.join() === 'stop ', asked);
  await page.getByRole('heading', { name: 'Begin', exact: true }).waitFor({ timeout: 20000 });
  await page.evaluate(() => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{"line":"clear all"}' }));
  source.close();
  return page;
}

/* Silent for long: the first press stops, and says so until it has stopped. */
async function silentForLong(server, page) {
  const source = await logger(20, FIGURES);
  await page.goto(`${server.address}#/live`);
  await begin(page, source.source);
  source.silence(true);
  await alarm(page).waitFor({ timeout: 20000 });
  await page.waitForTimeout(20000);
  let sent = 0;
  await page.route('**/live/stop', async (route) => { sent++; await new Promise((done) => { setTimeout(done, 1500); }); await route.continue(); });
  await page.locator('.stop').click();
  check('a press on Stop is seen at once', /Stopping…/.test(await page.locator('.stop').innerText()) && await page.locator('.stop').getAttribute('aria-disabled') === 'true', await page.locator('.stop').innerText());
  await page.waitForTimeout(700);
  await page.locator('.stop').click({ force: true });
  await page.getByRole('heading', { name: 'Begin', exact: true }).waitFor({ timeout: 20000 });
  check('after twenty seconds of silence the first press stops, and another sends nothing', sent === 1, sent);
  source.close();
}

export default async function pressed() {
  const server = await serve(demoDay().book);
  const window = await device(server, 'window', { viewport: { width: 1280, height: 720 } });
  await silentForLong(server, window);
  await window.context().close();
  for (const [name, width, height] of [['tablet', 820, 1180], ['phone', 390, 844]]) {
    const page = await device(server, name, { viewport: { width, height }, hasTouch: true });
    await page.context().close();
  }
  await stopInOrder(server);
}
