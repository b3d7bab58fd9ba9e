// What no curve and no live figure may be spoilt by: a file of three rows, cells that are no number, a word of 300 letters, forty lines in a small window,
// one point to be seen, two sources that give the same channel, a figure that becomes no number, a source that falls silent in a pull and one of 1 Hz.
import { check, demoDay, logger, open, picture, serve, stopInOrder } from './harness.mjs';

const text = (page, selector) => page.locator(selector).first().innerText();
const noNumber = async (page, where) => check(`${where}: nothing reads NaN, undefined or Infinity`, !/\b(NaN|undefined|Infinity|null)\b/.test(await page.evaluate(() => document.body.innerText)));
const wide = (page) => page.evaluate(() => document.documentElement.scrollWidth - innerWidth);

function sweep(rows, { spoilt = () => false } = {}) {
  const lines = ['Time [s],Engine Speed [rpm],Torque [N.m],Throttle [%],Lambda'];
  for (let i = 0; i < rows; i++) {
    const speed = 2500 + 10 * i, bad = spoilt(i);
    lines.push(`${(i * 0.02).toFixed(2)},${speed},${bad ? 'NaN' : (250 - ((speed - 4500) / 200) ** 2 / 4).toFixed(2)},100,${bad ? '' : '0.88'}`);
  }
  return lines.join('\n') + '\n';
}
const add = (page, name, body, more = {}) => page.evaluate(async ([name, body, more]) => {
  const r = await fetch('/api/v1/recordings?' + new URLSearchParams({ name, pressure: '990 hPa', temperature: '22 degC', humidity: '50 %', ...more }), { method: 'POST', headers: { 'Content-Type': 'application/octet-stream' }, body });
  return [r.status, await r.json()];
}, [name, body, more]);

async function files(page, server) {
  await page.goto(`${server.address}#/pulls?a=35`);
  await page.locator('.plot-box canvas').first().waitFor();
  const [few, why] = await add(page, 'three.csv', sweep(3));
  check('a file of three rows is no pull, and that is said', few === 400 ? why.error.length > 20 : why.pull_ids.length === 0 && why.notes.length > 0, [few, why]);
  const [holes, holed] = await add(page, 'holes.csv', sweep(450, { spoilt: (i) => i % 40 > 36 }));
  check('cells that are no number are left out', holes === 200 && holed.pull_ids.length === 1, [holes, holed]);
  const [long, named] = await add(page, 'long.csv', sweep(460), { changed: 'w'.repeat(300) });
  check('a word of 300 letters is taken or refused with its limit', long === 200 || /\d/.test(named.error), [long, named]);
  const ids = [holed, named].flatMap((n) => n.pull_ids ?? []);
  await page.goto(`${server.address}#/pulls?a=${ids[0]}${ids[1] ? '&b=' + ids[1] : ''}`);
  await page.waitForFunction((name) => document.querySelector('.work .plot-box')?.dataset.lines?.includes(name), String(ids[0]));
  await noNumber(page, 'a curve with holes');
  for (const [width, height] of [[1280, 720], [400, 860]]) {
    await page.setViewportSize({ width, height });
    await page.waitForTimeout(200);
    const over = await wide(page);
    check(`a word of 300 letters pushes nothing out at ${width}`, over <= 0, over);
    await picture(page, `odd-long-${width}`);
  }
  await page.setViewportSize({ width: 1280, height: 720 });
}

async function forty(page, server) {
  const sound = await page.evaluate(() => fetch('/api/v1/pulls').then((r) => r.json()).then((r) => r.pulls.slice(-40).map((p) => p.id)));
  await page.goto(`${server.address}#/pulls?a=${sound.join()}`);
  await page.waitForFunction((n) => document.querySelector('.work .plot-box')?.dataset.lines?.split(',').length === n, sound.length);
  const box = await page.locator('.work .plot-box').first().boundingBox(), over = await wide(page);
  check('many lines at 1280x720: the plot is in sight, nothing lies to the right', box.y < 400 && box.height > 150 && over <= 0, [box, over]);
  await noNumber(page, 'many lines');
  await picture(page, 'odd-forty');
}

async function onePoint(page, server) {
  await page.goto(`${server.address}#/pulls?a=35&x=4990,5010`);
  await page.locator('.plot-box canvas').first().waitFor();
  await page.locator('.plot-box').first().focus();
  await page.keyboard.press('ArrowRight');
  check('of one point in sight the figure is told', /rpm: /.test(await text(page, '.work .readout')), await text(page, '.work .readout'));
  await noNumber(page, 'one point');
}

const begin = (page, sources) => page.evaluate((sources) => fetch('/api/v1/live/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ sources }) }).then(async (r) => [r.status, await r.text()]), sources);
const control = (page, line) => page.evaluate((line) => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ line }) }).then((r) => r.status), line);
const stop = (page) => page.evaluate(() => fetch('/api/v1/live/stop', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' }).then((r) => r.status));
const torque = (page) => page.locator('.hero-value').nth(1).innerText();

async function live(page, server) {
  const line = await logger(100, { 'Speed [rpm]': 3000, 'Torque [N.m]': 111, 'Throttle [%]': 100 }), other = await logger(20, { 'Torque [N.m]': 222, 'Oil pressure [bar]': 4 });
  await page.setViewportSize({ width: 1280, height: 720 });
  await page.goto(`${server.address}#/live`);
  const [status, told] = await begin(page, [line.source, other.source]);
  if (status === 200) {
    await page.waitForFunction(() => /^\d+$/.test(document.querySelectorAll('.hero-value')[1]?.textContent ?? ''), null, { timeout: 30000 });
    const seen = new Set();
    for (let k = 0; k < 12; k++) { seen.add(await torque(page)); await page.waitForTimeout(120); }
    check('two sources of one channel: the figure is one of them all the time', seen.size === 1, [...seen]);
  } else check('two sources of one channel are refused, with which', /orque/.test(told), told);
  await stop(page);
  let again = 0;
  for (let k = 0; k < 40 && again !== 200; k++) { [again] = await begin(page, [line.source]); if (again !== 200) await page.waitForTimeout(250); }
  check('a session begins after another has ended', again === 200, again);
  await page.waitForFunction(() => document.querySelectorAll('.hero-value')[1]?.textContent === '111', null, { timeout: 30000 });
  await control(page, 'begin');
  line.set({ 'Torque [N.m]': 'NaN' });
  await page.waitForFunction(() => document.querySelectorAll('.hero-value')[1]?.textContent !== '111', null, { timeout: 15000 });
  const gone = await torque(page);
  check('a figure that became no number is a dash', !/\d|NaN/.test(gone), gone);
  await noNumber(page, 'live, a torque that is no number');
  line.set({ 'Torque [N.m]': 123 });
  await page.waitForFunction(() => document.querySelectorAll('.hero-value')[1]?.textContent === '123', null, { timeout: 15000 });
  line.silence(true);
  await page.waitForFunction(() => !/\d/.test(document.querySelectorAll('.hero-value')[1]?.textContent ?? ''), null, { timeout: 15000 });
  check('a source that falls silent in a pull leaves no figure', true);
  await noNumber(page, 'live, a silent source');
  await stop(page);
  line.close(); other.close();
}

export default async function odd_pulls() {
  const server = await serve(demoDay().book), page = await open({ viewport: { width: 1280, height: 720 } });
  await files(page, server);
  await forty(page, server);
  await onePoint(page, server);
  await live(page, server);
  await page.context().close();
  await stopInOrder(server);
}
