// Every screen in one state of the shop, held to what anybody must be able to do with it: axe-core, light and dark; at 200 % zoom (a laptop's 1280x720 as
// 640x360) nothing is lost to the right and nothing scrolls both ways (WCAG 2.2, 1.4.4 and 1.4.10); with reduced motion nothing moves. A picture each,
// in the sizes of the shop, where pictures are asked for. Used by job_access_*.mjs, one a state.
import { axe, check, open, picture, pictures } from './harness.mjs';

export const SCREENS = ['day', 'live', 'window', 'pulls', 'engine', 'predict', 'search', 'build', 'lash', 'handover', 'shop', 'jobs', 'calibrate'];
const SIZES = { window: [1920, 1080], laptop: [1280, 720], tablet: [1024, 768], phone: [390, 844] };

/* Nothing of it is on its way any more, or four seconds have gone. */
const settled = async (page) => {
  await page.waitForFunction(() => document.querySelector('main, .bar') && !/(Opening|Looking|Reading|Asking|Making)[^.]*…/.test(document.body.innerText), null, { timeout: 4000 }).catch(() => undefined);
  await page.waitForTimeout(300);
};
async function go(page, address, screen) {
  await page.evaluate((hash) => { location.hash = hash; }, `#/${screen}`);
  await settled(page);
}

/* What can be scrolled to the right although the page goes downwards: but for tables and plots, which need both their directions (1.4.10). */
const sideways = () => document.documentElement.scrollWidth - innerWidth;
/* What would take its time to change, of everything that is drawn. */
const takesTime = () => [...document.querySelectorAll('*')].flatMap((e) => {
  const s = getComputedStyle(e), long = (text) => text.split(',').some((one) => parseFloat(one) > 0);
  return (s.animationName !== 'none' && long(s.animationDuration)) || long(s.transitionDuration) || s.scrollBehavior === 'smooth' ? [e.tagName + '.' + e.className] : [];
}).slice(0, 5);
const moving = () => document.getAnimations().filter((a) => a.playState === 'running' && (a.effect?.getComputedTiming().duration ?? 0) > 1).map((a) => a.animationName ?? a.transitionProperty);

/** `address`: of the server; `before`: what is done once each screen has been seen, as taking the server away. */
export async function accessible(state, address, { screens = SCREENS, schemes = ['light', 'dark'], before = async () => undefined } = {}) {
  for (const scheme of schemes) {
    const page = await open({ colorScheme: scheme, viewport: { width: 1280, height: 720 }, reducedMotion: 'reduce' });
    await page.goto(address + '#/day');
    await settled(page);
    for (const screen of screens) await go(page, address, screen); /* each has been there once, and what it keeps is kept */
    await before(page);
    for (const screen of screens) {
      await page.setViewportSize({ width: 1280, height: 720 });
      await go(page, address, screen);
      await axe(page, `${screen}, ${state}, ${scheme}`);
      const moves = await page.evaluate(moving);
      check(`${screen}, ${state}: nothing moves where motion is reduced`, moves.length === 0, moves);
      const slow = await page.evaluate(takesTime);
      check(`${screen}, ${state}: and nothing would take its time to change`, slow.length === 0, slow);
      await page.setViewportSize({ width: 640, height: 360 });
      await page.waitForTimeout(150);
      const wide = await page.evaluate(sideways);
      check(`${screen}, ${state}: at 200 % nothing lies beyond the right edge`, wide <= 0, wide);
      if (pictures) for (const [name, [width, height]] of Object.entries(SIZES)) {
        if (scheme === 'dark' && name !== 'laptop' && name !== 'phone') continue;
        await page.setViewportSize({ width, height });
        await page.waitForTimeout(200);
        await picture(page, `${state}-${screen}-${name}-${scheme}`);
      }
    }
    await page.context().close();
  }
}

/** Where motion is not reduced a button's colour takes its time: what is looked for above is found where it is. */
export async function motion(address) {
  const page = await open({ viewport: { width: 1280, height: 720 }, reducedMotion: 'no-preference' });
  await page.goto(address + '#/day');
  await settled(page);
  check('where motion is not reduced, what takes its time is found', (await page.evaluate(takesTime)).length > 0);
  await page.context().close();
}

/** The first Tab leads past the bar; `?` opens the map of keys, Escape closes it and the focus is where it was. */
export async function keys(address, screens = SCREENS.filter((s) => s !== 'window')) {
  const page = await open({ viewport: { width: 1280, height: 720 } });
  await page.goto(address + '#/day');
  for (const screen of screens) {
    await page.goto('about:blank');
    await page.goto(`${address}#/${screen}`);
    await settled(page);
    await page.keyboard.press('Tab');
    const first = await page.evaluate(() => [document.activeElement.className, document.activeElement.getBoundingClientRect().top]);
    check(`${screen}: the first Tab leads past the bar, and is seen`, first[0].includes('skip') && first[1] >= 0, first);
    await page.keyboard.press('Enter');
    await page.keyboard.press('Tab');
    check(`${screen}: it leads into the screen`, await page.evaluate(() => document.activeElement?.closest('main') != null), await page.evaluate(() => document.activeElement?.outerHTML.slice(0, 120)));
    await page.evaluate(() => document.activeElement.blur());
    await page.keyboard.press('?');
    check(`${screen}: ? opens the map of keys`, await page.locator('dialog.keys').evaluate((d) => d.open));
    await page.keyboard.press('Escape');
    check(`${screen}: Escape closes it`, !(await page.locator('dialog.keys').evaluate((d) => d.open)));
  }
  await page.context().close();
}
