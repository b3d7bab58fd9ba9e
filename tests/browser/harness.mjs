// What every job of the browser tests needs: the program as a server, Chromium, axe-core, a demo day, and counting.
// Outside sources: WCAG 2.2 A and AA as axe-core checks them.
import { spawn, execFileSync } from 'node:child_process';
import { mkdtempSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
const require = createRequire(import.meta.url);
const { chromium } = require('playwright-core');
const axeSource = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

export const program = process.argv[2];
export const pictures = process.argv.includes('--pictures') ? process.argv[process.argv.indexOf('--pictures') + 1] : null;
export const folder = mkdtempSync(join(tmpdir(), 'enginewright-browser-'));
if (pictures) mkdirSync(pictures, { recursive: true });

export const count = { passed: 0, failed: 0 };
export function check(says, good, found = '') {
  if (good) count.passed++;
  else { count.failed++; console.log(`FAILED: ${says}`, found); }
}
/** The answer of a command that was asked for JSON. */
export const ask = (...words) => JSON.parse(execFileSync(program, [...words, '--json'], { encoding: 'utf8' }));
export const run = (...words) => execFileSync(program, words, { encoding: 'utf8' });

const children = new Set(), contexts = new Set();
process.env.XDG_CONFIG_HOME = join(folder, 'config'); /* this machine's files, of this run only */
let own = null; /* the cookie of this machine's own browser, once a link was exchanged for it */
/** A browser of this run that is let in, as by the printed link. */
export async function letIn(context) {
  contexts.add(context);
  context.on('close', () => contexts.delete(context));
  if (own) await context.addCookies([own]);
  return context;
}
async function exchange(said) {
  const answer = await fetch(`${said.address}api/v1/open`, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ key: said.link.split('key=')[1] }) });
  const [name, value] = answer.headers.get('set-cookie').split(';')[0].split('=');
  own = { name, value, url: 'http://127.0.0.1', httpOnly: true, sameSite: 'Strict' };
  for (const context of contexts) await context.addCookies([own]);
}
/** `enter`: the browsers of this run are let in, as by the printed link. */
export async function serve(book, port = 0, enter = true) {
  const child = spawn(program, ['serve', '--book', book, '--port', String(port), '--json'], { stdio: ['ignore', 'pipe', 'ignore'] });
  children.add(child);
  child.on('exit', () => children.delete(child));
  const line = await new Promise((resolve, reject) => {
    let text = '';
    child.stdout.on('data', (d) => { text += d; if (text.includes('\n')) resolve(text); });
    child.once('exit', (code) => reject(new Error(`serve ended with ${code}`)));
  });
  const said = JSON.parse(line);
  if (enter) await exchange(said);
  return { ...said, signal: (signal) => child.kill(signal), stop: (signal = 'SIGTERM') => new Promise((done) => { child.on('exit', (code, by) => done(code ?? by)); child.kill(signal); }) };
}

/** ENGINEWRIGHT_PAGE: a folder with index.html, the scripts and app.css, as web/bundle writes them, shown instead of the program's own: the page is tried without
 * building the program anew. */
const otherPage = process.env.ENGINEWRIGHT_PAGE ?? null;
async function withOtherPage(context) {
  if (!otherPage) return;
  for (const [name, type] of [['early.js', 'text/javascript'], ['app.js', 'text/javascript'], ['shared.js', 'text/javascript'], ['more.js', 'text/javascript'], ['app.css', 'text/css']]) await context.route('**/' + name, (route) => route.fulfill({ path: join(otherPage, name), contentType: type + '; charset=utf-8' }));
  await context.route((url) => url.pathname === '/', (route) => route.fulfill({ path: join(otherPage, 'index.html'), contentType: 'text/html; charset=utf-8' }));
}
export const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', '--disable-dev-shm-usage'] });
export const problems = [];
export async function open(options = {}) {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, acceptDownloads: true, ...(otherPage ? { serviceWorkers: 'block' } : {}), ...options });
  await withOtherPage(context);
  await letIn(context);
  const page = await context.newPage();
  page.on('pageerror', (e) => problems.push(e.message));
  page.on('console', (m) => { if (m.type() === 'error' && !/Failed to load resource|ERR_/.test(m.text())) problems.push(m.text()); });
  return page;
}
export async function axe(page, name) {
  await page.evaluate(axeSource);
  const found = await page.evaluate(async () => {
    const result = await window.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] });
    return result.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(' ') + ' ' + (n.any[0]?.message ?? '')).join(' | ')}`);
  });
  check(`axe finds nothing on ${name}`, found.length === 0, found);
}
/** Kept only when pictures were asked for. */
export async function picture(page, name) { if (pictures) await page.screenshot({ path: join(pictures, name + '.png') }); }


/** What the page's Web Audio was asked to sound, as [ms, Hz]; with a context that tells its state as a browser does. */
export const heard = (page) => page.evaluate(() => window.soundsMade ?? []);
export const listenToSound = (page) => page.addInitScript(() => {
  window.soundsMade = [];
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (...when) { window.soundsMade.push([performance.now(), this.frequency.value]); return start.apply(this, when); };
});
/** A logger on a line: a header and rows at `hz`, whose figures the test sets; it can fall silent, and come back. */
export async function logger(hz, figures) {
  const { createServer } = await import('node:net');
  const sockets = new Set(), now = { ...figures }, began = performance.now();
  let silent = false;
  const tcp = createServer((socket) => {
    sockets.add(socket);
    socket.on('error', () => {});
    socket.on('close', () => sockets.delete(socket));
    socket.write(`Time [s],${Object.keys(figures).join(',')}\n`);
  });
  await new Promise((done) => tcp.listen(0, '127.0.0.1', done));
  const timer = setInterval(() => {
    const row = `${((performance.now() - began) / 1000).toFixed(3)},${Object.values(now).join(',')}\n`;
    if (!silent) sockets.forEach((socket) => socket.write(row));
  }, 1000 / hz);
  const close = () => { clearInterval(timer); sockets.forEach((s) => s.destroy()); tcp.close(); };
  loggers.add(close);
  return { source: `tcp://127.0.0.1:${tcp.address().port}`, set: (next) => Object.assign(now, next), silence: (is) => { silent = is; }, close };
}
const loggers = new Set();

let days = 0;
/** The demo day in a fresh book, with the engine's combination. */
export function demoDay() {
  const made = ask('demo', '--folder', join(folder, 'day-' + ++days));
  run('engine', 'add', 'examples/engines/hill-climb-six.yaml', '--book', made.book);
  return made;
}
export async function end() {
  await browser.close();
  for (const close of loggers) close();
  for (const child of children) child.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
}
export async function stopInOrder(server) {
  const code = await server.stop();
  check('the server ends in order', code === 0, code);
}
