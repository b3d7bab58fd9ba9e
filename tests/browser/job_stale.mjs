// No figure that is old is shown as live: a source of one sample a second and one of a hundred, each falling silent; a server that
// hangs, a network that is cut, a tablet that slept, a page behind another; the device's clock three days off. What is watched is
// the page itself, ten times a second.
import { check, demoDay, logger, open, picture, serve, stopInOrder } from './harness.mjs';

const FIGURES = { 'Speed [rpm]': 3000, 'Torque [N.m]': 15, 'Oil pressure [bar]': 3 };
const start = (page, source) => page.evaluate((source) => fetch('/api/v1/live/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ sources: [source] }) }).then((r) => r.status), source);
const isLive = (page) => page.waitForFunction(() => document.querySelector('.fresh')?.textContent === 'live' && /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''), null, { timeout: 20000 });
const isNot = (page) => page.waitForFunction(() => document.querySelector('.hero-value')?.textContent === '– –', null, { timeout: 20000 });
/* Looks ten times a second for so long: how often figures were shown, and how often not. */
const look = (page, ms) => page.evaluate((ms) => new Promise((done) => {
  const seen = { live: 0, none: 0, heights: [] }, until = performance.now() + ms;
  const timer = setInterval(() => {
    const live = /^[\d,]+$/.test(document.querySelector('.hero-value').textContent);
    seen[live ? 'live' : 'none']++;
    seen.heights.push(document.querySelector('.live').offsetTop + document.querySelector('.heroes').offsetTop);
    if (performance.now() > until) { clearInterval(timer); done(seen); }
  }, 100);
}), ms);

async function slowSource(page) {
  const slow = await logger(1, FIGURES);
  check('a source of one sample a second is recorded', await start(page, slow.source) === 200);
  await isLive(page);
  await look(page, 2500);
  const seen = await look(page, 5000);
  check('its figures stand still between samples and do not blink', seen.none === 0, seen);
  check('nothing jumps', new Set(seen.heights).size === 1, [...new Set(seen.heights)]);
  await page.getByText(/a sample every/).waitFor();
  check('and how old one may be is said', /a sample every 1\.0\s*s/.test(await page.locator('.live').innerText()));
  slow.silence(true);
  const at = Date.now();
  await isNot(page);
  const took = Date.now() - at;
  check('when it falls silent they are none after two and a half of its waits', took < 4500, took);
  await page.locator('[data-alarm="no data"]').waitFor();
  slow.silence(false);
  await isLive(page);
  slow.close();
}

async function fastSource(page) {
  const fast = await logger(100, FIGURES);
  check('a source of a hundred a second is recorded', await start(page, fast.source) === 200);
  await isLive(page);
  const seen = await look(page, 3000);
  check('its figures stand', seen.none <= 1, seen);
  fast.silence(true);
  const at = Date.now();
  await isNot(page);
  const took = Date.now() - at;
  check('when it falls silent they are none within a second and a half', took < 1500, took);
  await page.locator('.fresh', { hasText: 'NO DATA for' }).waitFor();
  check('and the screen says so', true);
  await page.evaluate(() => { location.hash = '#/pulls'; });
  await page.locator('[data-alarm="no data"]').waitFor();
  check('any screen does', /NO DATA/.test(await page.title()), await page.title());
  await page.evaluate(() => { location.hash = '#/live'; });
  fast.silence(false);
  await isLive(page);
  return fast;
}

async function hangsAndCut(page, server, fast) {
  server.signal('SIGSTOP');
  const at = Date.now();
  await isNot(page);
  check('a server that hangs: no figure after a second and a half', Date.now() - at < 1500, Date.now() - at);
  server.signal('SIGCONT');
  await isLive(page);
  fast.set({ 'Speed [rpm]': 4500 });
  await page.waitForFunction(() => document.querySelector('.hero-value').textContent === '4,500');
  check('and the figures of now when it goes on', true);
  const client = await page.context().newCDPSession(page);
  await client.send('Network.enable');
  await client.send('Network.emulateNetworkConditions', { offline: true, latency: 0, downloadThroughput: -1, uploadThroughput: -1 });
  await page.evaluate(() => fetch('/api/v1/book').catch(() => 0));
  await page.waitForTimeout(1000);
  await client.send('Network.emulateNetworkConditions', { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: -1 });
  await isLive(page);
}

/* A tablet that sleeps: its page is hidden, then frozen. What it shows when it wakes is what it showed when it fell asleep. */
async function sleeps(page, fast) {
  const hide = (is) => page.evaluate((is) => {
    Object.defineProperty(document, 'hidden', { configurable: true, get: () => is });
    document.dispatchEvent(new Event('visibilitychange'));
  }, is);
  await hide(true);
  await isNot(page);
  check('a page that nobody sees holds no figure to wake with', true);
  await hide(false);
  await isLive(page);
  const client = await page.context().newCDPSession(page);
  await client.send('Page.setWebLifecycleState', { state: 'frozen' });
  fast.set({ 'Speed [rpm]': 5200 });
  await new Promise((done) => { setTimeout(done, 3000); });
  await client.send('Page.setWebLifecycleState', { state: 'active' });
  await page.waitForFunction(() => ['– –', '5,200'].includes(document.querySelector('.hero-value').textContent), null, { timeout: 3000 });
  await page.waitForFunction(() => document.querySelector('.hero-value').textContent === '5,200', null, { timeout: 20000 });
  check('after sleep the figures are those of now', true);
}

async function clockOff(server, book) {
  const page = await open();
  await page.addInitScript(() => {
    const away = -3 * 86400000, RealDate = Date;
    window.Date = class extends RealDate { constructor(...a) { if (a.length) super(...a); else super(RealDate.now() + away); } static now() { return RealDate.now() + away; } };
  });
  await page.goto(`${server.address}#/live`);
  await isLive(page);
  check('a clock three days off is said', /clock is 3 days behind the server's/.test(await page.locator('.clocks').innerText()), await page.locator('.clocks').innerText());
  const says = await page.locator('.news').innerText();
  check('and how long ago is by the server', /\d\d:\d\d:\d\d UTC, \d+\s(s|min) ago/.test(says) && !/days ago|h ago/.test(says), says.slice(0, 200));
  await picture(page, 'stale-clock');
  await page.goto(`${server.address}#/day`);
  await page.getByLabel('Note').fill('written by a clock that is off');
  await page.locator('form', { has: page.getByLabel('Note') }).getByRole('button', { name: 'Keep' }).click();
  await page.locator('.notes', { hasText: 'written by a clock that is off' }).waitFor();
  await page.locator('.notes', { hasText: 'not in the book yet' }).waitFor({ state: 'detached', timeout: 20000 });
  const kept = await page.evaluate(() => { const day = new Date(new Date().getTime() + 3 * 86400000).toISOString().slice(0, 10); return fetch('/api/v1/notes?day=' + day).then((r) => r.json()); });
  check("a note is dated by the server's clock", kept.notes.some((n) => n.text === 'written by a clock that is off'), kept);
  await page.context().close();
}

export default async function stale() {
  const book = demoDay().book, server = await serve(book);
  const page = await open();
  await page.goto(`${server.address}#/live`);
  await page.locator('.heroes').waitFor();
  await slowSource(page);
  await page.evaluate(() => fetch('/api/v1/live/stop', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' }));
  await page.getByRole('button', { name: 'Begin recording' }).waitFor();
  const fast = await fastSource(page);
  await hangsAndCut(page, server, fast);
  await sleeps(page, fast);
  await clockOff(server, book);
  fast.close();
  await page.context().close();
  await stopInOrder(server);
}
