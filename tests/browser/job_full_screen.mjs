// The whole screen on Live and on the customer's window: by button and by F, left again with nothing lost; and that a device lets its screen sleep is told.
// Outside sources: Fullscreen API (WHATWG), Screen Wake Lock API (W3C), as Chromium has them; a device that refuses is stood in for.
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

const isFull = (page) => page.evaluate(() => document.fullscreenElement != null);
const until = (page, full) => page.waitForFunction((is) => (document.fullscreenElement != null) === is, full, { timeout: 10000 });

async function turns(page, name) {
  const button = page.locator('.full-screen button');
  await button.click();
  await until(page, true);
  check(`${name}: the button gives the whole screen, and says how to leave`, (await button.innerText()) === 'Leave full screen');
  await axe(page, `${name}, full screen`);
  await picture(page, `full-${name}`);
  await page.locator('body').press('f');
  await until(page, false);
  await page.locator('body').press('f');
  await until(page, true);
  check(`${name}: F turns it, too`, true);
  await button.click();
  await until(page, false);
}

export default async function fullScreen() {
  const server = await serve(demoDay().book), page = await open({ viewport: { width: 1280, height: 720 } });
  await page.goto(`${server.address}#/live`);
  const source = page.locator('input[list="sources"]').first();
  await source.fill('practice:?rate=20&run=');
  await source.press('End');
  await page.keyboard.type('fast 1');
  check('an f in a field is a letter', !await isFull(page) && (await source.inputValue()).endsWith('fast 1'));
  await source.blur();
  await turns(page, 'live');
  check('nothing that was typed is lost by it', (await source.inputValue()).endsWith('fast 1'), await source.inputValue());
  await page.goto(`${server.address}#/window`);
  await page.locator('.window h1').waitFor();
  await turns(page, 'window');
  await page.close();
  for (const [how, says] of [['no', 'battery saver'], ['none', 'only over TLS']]) {
    const sleepy = await open({ viewport: { width: 820, height: 1180 } });
    await sleepy.addInitScript((is) => {
      const put = (value) => Object.defineProperty(Navigator.prototype, 'wakeLock', { configurable: true, get: () => value });
      if (is === 'none') delete Navigator.prototype.wakeLock; else put({ request: () => Promise.reject(new DOMException('no', 'NotAllowedError')) });
    }, how);
    await sleepy.goto(`${server.address}#/live`);
    await sleepy.getByText(says).waitFor({ timeout: 15000 });
    check(`a screen that may sleep is told (${how})`, true);
    await sleepy.close();
  }
  await stopInOrder(server);
}
