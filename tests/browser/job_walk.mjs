// Every screen and view as a stranger meets it: by keyboard alone, by the tree a screen reader is given, at widths from a
// phone to a wall, and printed.
// Outside sources: WCAG 2.2 (1.3.1, 1.4.10, 2.1.1, 2.1.2, 2.4.3, 2.4.7, 2.4.11, 4.1.2); Chromium's own accessibility tree.
import { check, demoDay, folder, open, picture, serve, stopInOrder } from './harness.mjs';
import { join } from 'node:path';

const SCREENS = [
  ['day', '.next-step'], ['live', '.heroes'], ['pulls?a=33,34,35&b=29,31', '.verdict-line'],
  ['pulls?a=27,29,31&view=sweep', '.plot'], ['pulls?a=34&view=limit', '.verdict'], ['pulls?a=34&view=channels', '.plot'],
  ['pulls?a=33,34,35&b=29,31&view=method', '.card'], ['engine', '.facts'], ['predict', '.curve-card .plot-box'], ['build', '.item, .first'],
  ['lash', '.lash, .first'], ['handover', '.sheets img'], ['shop', 'button:has-text("Put in the cell")'], ['window', '.heroes'],
];
const WIDTHS = [360, 400, 1920, 3840];
const FOCUSABLE = 'a[href], button:not([disabled]), input:not([disabled]), select:not([disabled]), textarea:not([disabled]), summary, [tabindex="0"]';

async function show(page, server, screen, ready) {
  await page.goto('about:blank');
  await page.goto(`${server.address}#/${screen}`);
  await page.locator(ready).first().waitFor();
  await page.waitForTimeout(400);
}

/* What has the focus now: whether it had it before, whether it is seen and outlined, and what lies over it. */
const focusNow = (page) => page.evaluate(async () => {
  await new Promise(requestAnimationFrame);
  const now = document.activeElement;
  if (!now || now === document.body) return null;
  const name = `${now.tagName.toLowerCase()}.${now.className} "${(now.getAttribute('aria-label') ?? now.textContent ?? '').trim().slice(0, 40)}"`;
  let outlined = false;
  for (let e = now; e && e !== document.body; e = e.parentElement) {
    const style = getComputedStyle(e);
    if (style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2) { outlined = true; break; }
  }
  const unseen = now.classList.contains('unseen') ? now.parentElement : now;
  const box = unseen.getClientRects()[0] ?? unseen.getBoundingClientRect();
  const x = Math.min(Math.max(box.left + Math.min(box.width / 2, 40), 1), innerWidth - 1), y = Math.min(Math.max(box.top + Math.min(box.height / 2, 12), 1), innerHeight - 1);
  const over = document.elementFromPoint(x, y);
  const covered = !over || !(unseen.contains(over) || over.contains(unseen) || over.closest('label')?.contains(now));
  const out = box.bottom <= 0 || box.top >= innerHeight || box.right <= 0 || box.left >= innerWidth;
  const known = window.walked.has(now), same = window.walkedLast === now;
  window.walked.add(now);
  window.walkedLast = now;
  return { known, same, name, outlined, covered: covered && !out ? `${over?.outerHTML.slice(0, 60)} at ${[x, y, box.left, box.top, box.width, box.height].map(Math.round)}` : null, out };
});

async function tabThrough(page, name) {
  const bare = [], covered = [];
  await page.evaluate(() => { window.walked = new Set(); window.walkedLast = null; document.activeElement?.blur?.(); scrollTo(0, 0); });
  for (let i = 0, stuck = 0; i < 700; i++) {
    await page.keyboard.press('Tab');
    const now = await focusNow(page);
    if (!now || (now.known && !now.same)) break;
    stuck = now.same ? stuck + 1 : 0;
    if (stuck > 3) { check(`${name}: the focus is not trapped`, false, now.name); break; }
    if (!now.outlined) bare.push(now.name);
    if (now.covered || now.out) covered.push([now.name, now.covered ?? 'outside']);
  }
  const [count, missed] = await page.evaluate((selector) => {
    const got = window.walked, all = [...document.querySelectorAll(selector)], radios = new Set();
    return [got.size, all.filter((e) => {
      if (got.has(e) || e.tabIndex < 0 || !e.checkVisibility({ visibilityProperty: true })) return false;
      if (e.type === 'radio') { if (radios.has(e.name) || all.some((o) => o.type === 'radio' && o.name === e.name && got.has(o))) return false; radios.add(e.name); }
      return true;
    }).map((e) => e.outerHTML.slice(0, 90))];
  }, FOCUSABLE);
  check(`${name}: every control is reached by Tab (${count})`, missed.length === 0, missed.slice(0, 5));
  check(`${name}: the focus is seen wherever it stands`, bare.length === 0, bare.slice(0, 5));
  check(`${name}: nothing lies over what has the focus`, covered.length === 0, covered.slice(0, 5));
}

const CONTROLS = new Set(['button', 'link', 'textbox', 'combobox', 'checkbox', 'slider', 'searchbox', 'spinbutton', 'radio', 'DisclosureTriangle', 'image', 'img', 'table']);
async function tree(page, name) {
  const session = await page.context().newCDPSession(page);
  const { nodes } = await session.send('Accessibility.getFullAXTree');
  await session.detach();
  const seen = nodes.filter((n) => !n.ignored);
  const nameless = seen.filter((n) => CONTROLS.has(n.role?.value) && n.role.value !== 'table' && !(n.name?.value ?? '').trim());
  check(`${name}: no control without a name`, nameless.length === 0, nameless.slice(0, 5).map((n) => n.role.value));
  const levels = await page.evaluate(() => [...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].filter((h) => h.checkVisibility()).map((h) => [Number(h.tagName[1]), h.textContent.trim().slice(0, 40)]));
  const jumps = levels.filter(([level], i) => level > (i ? levels[i - 1][0] : 0) + 1);
  check(`${name}: headings in order, from one of the first level`, jumps.length === 0 && levels.filter(([l]) => l === 1).length === 1, [jumps.slice(0, 4), levels.slice(0, 3)]);
  const headless = await page.evaluate(() => [...document.querySelectorAll('table')].filter((t) => t.checkVisibility() && !t.closest('.uplot') && !t.querySelector('th')).map((t) => t.outerHTML.slice(0, 80)));
  check(`${name}: tables have headers`, headless.length === 0, headless);
}

/* Nothing wider than the window, and no word or control cut by a box that does not scroll. */
const tooWide = (page) => page.evaluate(() => {
  const bad = [];
  if (document.documentElement.scrollWidth > innerWidth) bad.push(`the page: ${document.documentElement.scrollWidth}`);
  for (const e of document.querySelectorAll('a, button, input, select, h1, h2, h3, p, dd, dt, td, th, label, summary, .hero-value')) {
    if (!e.checkVisibility() || e.closest('.unseen, .skip, svg') || e.classList.contains('unseen')) continue;
    const box = e.getBoundingClientRect();
    let scrolls = false;
    for (let p = e.parentElement; p; p = p.parentElement) if (/auto|scroll/.test(getComputedStyle(p).overflowX)) { scrolls = true; break; }
    if (!scrolls && box.width > 0 && (box.right > innerWidth + 1 || box.left < -1)) bad.push(`outside: ${e.tagName}.${e.className} ${e.textContent.trim().slice(0, 30)}`);
    else if (!scrolls && e.scrollWidth > e.clientWidth + 2 && e.clientWidth > 0 && getComputedStyle(e).overflowX === 'visible' && getComputedStyle(e).display !== 'inline') bad.push(`spills: ${e.tagName}.${e.className} ${e.textContent.trim().slice(0, 30)}`);
  }
  return bad;
});

async function printed(page, name) {
  await page.emulateMedia({ media: 'print' });
  await page.setViewportSize({ width: 718, height: 1000 });
  await page.waitForTimeout(200);
  const cut = await page.evaluate(() => [...document.querySelectorAll('main *')].filter((e) => {
    if (e.tagName === 'INPUT' || e.tagName === 'SELECT' || e.closest('svg') || e.classList.contains('unseen') || !e.checkVisibility() || e.closest('.uplot')) return false;
    const style = getComputedStyle(e);
    return (/auto|scroll|hidden/.test(style.overflowY) && e.scrollHeight > e.clientHeight + 2) || (/auto|scroll|hidden/.test(style.overflowX) && e.scrollWidth > e.clientWidth + 2);
  }).map((e) => `${e.tagName}.${e.className} ${e.scrollWidth}/${e.clientWidth} ${e.scrollHeight}/${e.clientHeight}`));
  check(`${name}: nothing is cut when printed`, cut.length === 0, cut.slice(0, 5));
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  check(`${name}: fits the paper`, wide <= 0, wide);
  const pdf = await page.pdf({ format: 'A4', path: join(folder, 'printed.pdf') });
  check(`${name}: prints`, pdf.subarray(0, 5).toString() === '%PDF-');
}

export default async function walk() {
  const server = await serve(demoDay().book);
  for (const [screen, ready] of SCREENS) {
    const page = await open({ colorScheme: 'light' }), name = screen.replace('?', ' ');
    const shown = await show(page, server, screen, ready).then(() => true, () => false);
    check(`${name} is shown`, shown);
    if (!shown) continue;
    await tree(page, name);
    await tabThrough(page, name);
    for (const width of WIDTHS) {
      await page.setViewportSize({ width, height: width < 500 ? 780 : width / 16 * 9 });
      await page.waitForTimeout(250);
      const bad = await tooWide(page);
      check(`${name} at ${width} px: nothing is cut or outside`, bad.length === 0, bad.slice(0, 6));
      await picture(page, `walk-${screen.replace(/\?.*view=/, '-').replace(/\?.*/, '')}-${width}`);
    }
    await printed(page, name);
    await page.context().close();
  }
  await stopInOrder(server);
}
