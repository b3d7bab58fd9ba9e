// The page in German: chosen by the browser's own list or on the page; no English sentence is left on any screen, figures and
// days are written as German writes them, nothing is wider than the window, and the facts are the same.
// Outside source: RFC 9110, 12.5.4 (Accept-Language).
import { join } from 'node:path';
import { axe, check, demoDay, folder, open, picture, serve, stopInOrder } from './harness.mjs';

/* English words that German does not have. What somebody typed stands in elements marked translate="no", code in <code> and <pre>. */
const leftovers = (page) => page.evaluate(() => {
  const english = /(?<![\p{L}\p{N}_./=-])(the|is|are|of|and|not|with|for|this|that|were|from|by|be|has|have|which|when|while|than|its|it|to|yet|nothing|known)(?![\p{L}\p{N}_./=-])/iu;
  const own = (element) => element.closest('[translate="no"], code, pre, script, style, noscript');
  const found = new Set();
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode())
    if (node.parentElement && !own(node.parentElement) && english.test(node.textContent)) found.add(node.textContent.trim());
  for (const element of document.querySelectorAll('[aria-label], [title], [placeholder], [alt]'))
    for (const name of ['aria-label', 'title', 'placeholder', 'alt']) {
      const text = element.getAttribute(name);
      if (text && !own(element) && english.test(text)) found.add(`${name}: ${text}`);
    }
  return [...found];
});

const SCREENS = [['day', '.next-step'], ['pulls?a=33,34,35&b=29,31', '.verdict-line'], ['pulls?a=33&view=limit', '.verdict-line'], ['pulls?a=33&view=channels', '.plot'], ['pulls?a=33&view=method', '.plot'],
  ['engine', '.engine-columns'], ['predict', '.verdict-line'], ['build', '.item, .first'], ['lash', '.lash, .first'], ['handover', '.views a'], ['shop', 'table.list'], ['calibrate', '.calibration-step'], ['jobs', '.jobs details'], ['search', '.search fieldset'], ['live', '.heroes, .stack'], ['window', '.heroes']];

async function speaksGerman(page, server, name) {
  for (const [screen, ready] of SCREENS) {
    await page.goto(`${server.address}#/${screen}`);
    await page.locator(ready).first().waitFor({ timeout: 60000 });
    await page.waitForTimeout(400);
    const left = await leftovers(page);
    check(`${name}: no English on ${screen}`, left.length === 0, left);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    check(`${name}: ${screen} fits`, wide <= 0, wide);
    await picture(page, `german-${name}-${screen.replace(/\W+/g, '-')}`);
  }
}

/* While something is recorded, the watched channels are there. */
async function recording(page, server, name) {
  await page.goto(`${server.address}#/live`);
  await page.locator('.heroes').waitFor();
  await page.evaluate(() => fetch('/api/v1/live/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ sources: ['practice:?rate=20'] }) }));
  await page.waitForFunction(() => document.querySelectorAll('.live-side .gauge').length > 8, null, { timeout: 30000 });
  await page.waitForTimeout(600);
  const left = await leftovers(page), english = (await page.locator('.live-side').innerText()).match(/exhaust[^\n]*/g);
  check(`${name}: no English on Live while it records`, left.length === 0 && english === null, [left, english]);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  check(`${name}: Live while it records fits`, wide <= 0, wide);
  await picture(page, `german-${name}-recording`);
  await page.evaluate(() => fetch('/api/v1/live/stop', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' }));
}

export default async function german() {
  const server = await serve(demoDay().book);
  const page = await open({ locale: 'de-DE' });
  await page.goto(`${server.address}#/day`);
  await page.getByText('Nächster sinnvoller Schritt').waitFor();
  check('the document says its language', await page.evaluate(() => document.documentElement.lang) === 'de');
  await speaksGerman(page, server, 'wide');
  await recording(page, server, 'wide');
  await page.goto(`${server.address}#/pulls?a=33,34,35&b=29,31`);
  await page.locator('.verdict-line').waitFor();
  const text = await page.locator('main').innerText();
  check('figures have a decimal comma', /\d,\d/.test(text) && !/\d\.\d{1,2} N·m/.test(text));
  await axe(page, 'the page in German');
  /* the same facts, whatever the language */
  const ask = (language) => page.request.post(`${server.address}api/v1/compare`, { data: { a: [33, 34, 35], b: [29, 31], keep: false }, headers: { 'Accept-Language': language } }).then((r) => r.json());
  const facts = (value) => Array.isArray(value) ? value.map(facts) : value && typeof value === 'object' ? Object.fromEntries(Object.entries(value).filter(([key]) => !['text', 'says'].includes(key)).map(([key, v]) => [key, facts(v)])) : value;
  const [one, other] = [await ask('de'), await ask('en')];
  check('an answer has the same facts in both languages', JSON.stringify(facts(one)) === JSON.stringify(facts(other)));
  check('and another sentence', one.says !== other.says, one.says);
  /* chosen on the page, it outlives a reload, and goes before the browser's list */
  await page.goto(`${server.address}#/shop`);
  await page.getByLabel('Sprache dieser Seite').selectOption('en');
  await page.getByText('Dyno health').waitFor();
  await page.reload();
  await page.getByText('Dyno health').waitFor();
  check('English again, by choice', await page.evaluate(() => document.documentElement.lang) === 'en');
  await page.context().close();
  const phone = await open({ locale: 'de-DE', viewport: { width: 390, height: 844 } });
  await speaksGerman(phone, server, 'phone');
  await recording(phone, server, 'phone');
  await phone.context().close();
  await stopInOrder(server);
  const fresh = await serve(join(folder, 'leer.book'));
  const first = await open({ locale: 'de-DE' });
  await first.goto(`${fresh.address}#/day`);
  await first.getByText('War das besser?').waitFor();
  const left = await leftovers(first);
  check('no English on an empty book', left.length === 0, left);
  await first.context().close();
  await stopInOrder(fresh);
}
