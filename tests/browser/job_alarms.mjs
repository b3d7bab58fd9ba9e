// A standing alarm is on every screen, in the tab's title, and sounds until it is silenced, alone, or cleared; it outlives the news
// of an hour, a reload, the end of its recording and the server. A connection that is lost while something records is one, too.
// Outside sources: Web Audio API (W3C) as Chromium has it; WCAG 2.2 AA as axe-core checks it.
import { axe, check, demoDay, heard, listenToSound, logger, open, picture, serve, stopInOrder } from './harness.mjs';

const SCREENS = [['day', '.next-step'], ['live', '.heroes'], ['pulls', '.list-turn'], ['engine', '.facts'], ['predict', '.sliders'], ['build', '.item, .first'], ['lash', '.lash, .first'], ['handover', '.handover-before'], ['shop', 'table.list'], ['window', '.heroes']];
const WARM = { 'Speed [rpm]': 900, 'Torque [N.m]': 20, 'Oil pressure [bar]': 3, 'Oil temperature [degC]': 90, 'Coolant temperature [degC]': 80 };
const MOVED_MS = 800; /* rows that have just moved take no tap */
const BACK_OFF_HZ = 660, SHUT_DOWN_HZ = 980, NOTICE_HZ = 440;

const post = (page, path, body) => page.evaluate(([path, body]) => fetch('/api/v1/live/' + path, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) }).then((r) => r.status), [path, body]);
const control = (page, line) => post(page, 'control', { line });
const alarm = (page, name) => page.locator(`[data-alarm="${name}"]`);
const here = (page, name) => alarm(page, name).waitFor({ timeout: 20000 });
const gone = (page, name) => alarm(page, name).waitFor({ state: 'detached', timeout: 20000 });
const pitches = async (page, from) => [...new Set((await heard(page)).filter(([at]) => at >= from).map(([, hz]) => hz))].sort((a, b) => a - b);
const tick = (page) => page.evaluate(() => performance.now());
const soundsWith = (page, hz, from) => page.waitForFunction(([hz, from]) => window.soundsMade.some(([at, f]) => f === hz && at >= from), [hz, from], { timeout: 20000 });

async function onEveryScreen(page, address) {
  for (const [screen, ready] of SCREENS) {
    await page.evaluate((hash) => { location.hash = hash; }, '#/' + screen);
    await page.locator(ready).first().waitFor({ timeout: 30000 });
    await here(page, 'coolant very hot');
    const bar = page.locator('.alarms').first(), text = await bar.innerText();
    check(`${screen}: the alarm stands there, with the clock and how long ago`, /SHUT DOWN/.test(text) && /\d\d:\d\d:\d\d UTC, \d+\s(s|min) ago/.test(text), text);
    check(`${screen}: and in the tab's title`, /^! SHUT DOWN: coolant very hot/.test(await page.title()), await page.title());
    if (screen === 'window') check("but with no figure and no limit in the customer's window", !/limit|105|110/.test(text), text);
  }
  await page.goto(`${address}#/pulls`);
}

async function sounds(page, line) {
  await page.mouse.click(5, 5);
  const from = await tick(page);
  await soundsWith(page, SHUT_DOWN_HZ, from);
  check('the gravest sounds, and it alone', !(await pitches(page, from)).includes(BACK_OFF_HZ), await pitches(page, from));
  await page.getByRole('button', { name: 'Silence on this device: coolant very hot' }).click();
  const quiet = await tick(page) + 400;
  await soundsWith(page, BACK_OFF_HZ, quiet);
  check('silenced for itself: the next one is heard', !(await pitches(page, quiet)).includes(SHUT_DOWN_HZ), await pitches(page, quiet));
  check('and it is said', /Silenced on this device; it still stands/.test(await alarm(page, 'coolant very hot').innerText()));
  await page.getByRole('button', { name: 'Silence on this device: coolant hot' }).click();
  await page.waitForTimeout(2600);
  const silent = await tick(page) - 2100;
  check('with both silenced nothing sounds', (await pitches(page, silent)).length === 0, await pitches(page, silent));
  line.set({ 'Oil temperature [degC]': 124 });
  await here(page, 'oil hot');
  await soundsWith(page, NOTICE_HZ, silent);
  check('another alarm sounds all the same, as a notice does', true);
  await page.reload();
  await here(page, 'coolant very hot');
  check('after a reload it is still said to be silenced', /Silenced/.test(await alarm(page, 'coolant very hot').innerText()));
}

async function clearedOneByOne(page, other, line) {
  for (let i = 0; i < 45; i++) await control(page, `mark number ${i}`);
  await page.reload();
  await here(page, 'coolant very hot');
  check('forty-five news later, and loaded again, it still stands', await alarm(page, 'coolant hot').count() === 1);
  await control(page, 'clear all');
  await page.waitForTimeout(500);
  check('clearing what is still beyond its limit clears nothing', await alarm(page, 'coolant very hot').count() === 1);
  line.set({ 'Coolant temperature [degC]': 100, 'Oil temperature [degC]': 90 });
  await page.waitForTimeout(300);
  await page.getByRole('button', { name: 'Clear: coolant very hot' }).click();
  await gone(page, 'coolant very hot');
  await gone(other, 'coolant very hot');
  check('cleared on one device it is gone on both, and the others stand', await alarm(page, 'coolant hot').count() === 1 && await alarm(other, 'oil hot').count() === 1);
}

async function outlivesItsRecording(page) {
  await post(page, 'stop', {});
  await page.locator('.alarms', { hasText: 'It was active when the recording ended' }).waitFor({ timeout: 20000 });
  check('what stood when the recording ended stands on', await alarm(page, 'coolant hot').count() === 1);
  await page.waitForTimeout(MOVED_MS); /* the rows have just come: a tap would be taken for one of before */
  await page.getByRole('button', { name: 'Clear: coolant hot' }).click();
  await gone(page, 'coolant hot');
  await page.waitForTimeout(MOVED_MS);
  check('until a person clears it, each for itself', await alarm(page, 'oil hot').count() === 1);
  await page.getByRole('button', { name: 'Clear: oil hot' }).click();
  await page.locator('.alarms').waitFor({ state: 'detached' });
  check('and then the title is only the screen', await page.title() === 'Pulls · Enginewright', await page.title());
}

async function begin(page, line) {
  line.set(WARM);
  check('a recording begins', await post(page, 'start', { sources: [line.source], changed: '' }) === 200);
  await page.waitForFunction(() => fetch('/api/v1/live').then((r) => r.json()).then((l) => l.running && l.news.some((n) => n.news.event === 'channels')), null, { timeout: 20000 });
  await page.evaluate(() => { location.hash = '#/live'; });
  await page.waitForFunction(() => document.querySelector('.fresh')?.textContent === 'live', null, { timeout: 20000 });
}

async function serverHangs(page, server) {
  const from = await tick(page);
  server.signal('SIGSTOP');
  await here(page, 'connection lost');
  check('a server that hangs is seen by its silence, while something records', /CONNECTION LOST/.test(await page.title()) && /Look at the cell itself/.test(await alarm(page, 'connection lost').innerText()));
  await soundsWith(page, BACK_OFF_HZ, from);
  check('and heard', true);
  await picture(page, 'alarm-connection');
  server.signal('SIGCONT');
  await gone(page, 'connection lost');
  check('it goes when the connection is back', true);
}

async function serverDies(page, book, server, line) {
  line.set({ 'Coolant temperature [degC]': 110 });
  await here(page, 'coolant very hot');
  await page.evaluate(() => { location.hash = '#/live'; });
  await page.locator('.heroes').waitFor();
  await server.stop('SIGKILL');
  await here(page, 'connection lost');
  check('while it is away the page knows neither begin nor stop', await page.getByRole('button', { name: /Begin recording|Stop recording/ }).count() === 0 && /not known here/.test(await page.locator('.live').innerText()));
  const back = await serve(book, server.port);
  await page.getByRole('button', { name: 'Begin recording' }).waitFor({ timeout: 20000 });
  const says = await page.locator('.live').innerText();
  check("the state is the server's: not recording, and begin is offered", /not recording/.test(says) && !/NO DATA|Arm/.test(says), says.slice(0, 400));
  check('what was cut short is said', /Recording \d+ was cut short: [\d,]+ rows are kept/.test(says), says.slice(0, 600));
  await page.locator('[data-alarm="coolant very hot"]', { hasText: 'was active when the server stopped' }).waitFor();
  check('an alarm that was active when the server ended stands on', /SHUT DOWN/.test(await page.title()));
  await page.reload();
  await page.locator('[data-alarm="coolant very hot"]', { hasText: 'was active when the server stopped' }).waitFor();
  await picture(page, 'alarm-carried');
  await page.getByRole('button', { name: 'Noted: coolant very hot' }).click();
  await gone(page, 'coolant very hot');
  check('until somebody has noted it', true);
  return back;
}

async function seen(address, page) {
  for (const [scheme, width, height] of [['light', 1280, 720], ['dark', 1280, 720], ['light', 1920, 1080], ['dark', 360, 740], ['light', 360, 740]]) {
    const other = await open({ colorScheme: scheme, viewport: { width, height } });
    for (const screen of ['live', 'pulls', 'window']) {
      await other.goto(`${address}#/${screen}`);
      await here(other, 'coolant very hot');
      await other.locator('.heroes, .list-turn').first().waitFor();
      await axe(other, `${screen} with an alarm, ${scheme}, ${width} px`);
      check(`${screen} with an alarm fits ${width} px`, await other.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
      const tall = await other.locator('.top').first().evaluate((e) => e.getBoundingClientRect().height / innerHeight);
      check('and alarms take no more than half of it', tall <= 0.51, tall);
      await picture(other, `alarm-${screen}-${scheme}-${width}`);
    }
    await other.context().close();
  }
}

export default async function alarms() {
  const book = demoDay().book, line = await logger(25, WARM);
  let server = await serve(book);
  const page = await open(), other = await open({ viewport: { width: 390, height: 844 } });
  await listenToSound(page);
  for (const p of [page, other]) await p.goto(`${server.address}#/live`);
  await begin(page, line);
  line.set({ 'Coolant temperature [degC]': 110 });
  for (const p of [page, other]) for (const name of ['coolant very hot', 'coolant hot']) await here(p, name);
  check('of two that tripped the gauge names the graver', /coolant very hot: tripped, shut down/.test(await page.locator('[data-gauge="coolant_temperature"] .gauge-word').innerText()), await page.locator('[data-gauge="coolant_temperature"] .gauge-word').innerText());
  await onEveryScreen(page, server.address);
  await seen(server.address, page);
  await sounds(page, line);
  await clearedOneByOne(page, other, line);
  await outlivesItsRecording(page);
  await begin(page, line);
  await page.mouse.click(5, 5);
  await serverHangs(page, server);
  server = await serverDies(page, book, server, line);
  line.close();
  await page.context().close();
  await other.context().close();
  await stopInOrder(server);
}
