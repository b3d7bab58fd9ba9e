// Paper is light whatever the screen is: what Chromium prints from the dark scheme has the colours of the light one, curves too, and
// the screen is dark again afterwards. Outside source: Poppler's pdftoppm, which draws what was printed.
// A zoom leaves the chosen curve chosen: the band that is drawn and the figure that is told are of one curve.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { check, demoDay, folder, open, picture, serve, stopInOrder } from './harness.mjs';

/* Shares of pixels near a colour, in everything that was printed. */
function printed(pdf) {
  const stem = join(folder, 'printed');
  writeFileSync(stem + '.pdf', pdf);
  execFileSync('pdftoppm', ['-r', '60', '-singlefile', stem + '.pdf', stem]);
  const bytes = readFileSync(stem + '.ppm'), [head] = /^P6\s+\d+\s+\d+\s+255\s/.exec(bytes.subarray(0, 60).toString('latin1'));
  const pixels = bytes.subarray(head.length);
  const near = (r, g, b) => { let count = 0; for (let i = 0; i < pixels.length; i += 3) count += Math.abs(pixels[i] - r) + Math.abs(pixels[i + 1] - g) + Math.abs(pixels[i + 2] - b) < 40; return count; };
  let dark = 0;
  for (let i = 0; i < pixels.length; i += 3) dark += pixels[i] + pixels[i + 1] + pixels[i + 2] < 180;
  return { darkShare: 3 * dark / pixels.length, lightBlue: near(0x86, 0xb8, 0xea), blue: near(0x0d, 0x45, 0x77) };
}

async function onPaper(server) {
  const page = await open({ colorScheme: 'dark' });
  for (const [screen, ready] of [['pulls?a=17&b=18', '.plot-box canvas'], ['engine', '.facts'], ['day', '.next-step'], ['shop', 'table.list']]) {
    await page.goto(`${server.address}#/${screen}`);
    await page.locator(ready).first().waitFor({ timeout: 30000 });
    await page.waitForTimeout(400);
    const { darkShare, lightBlue, blue } = printed(await page.pdf({ width: '1200px', height: '1600px', printBackground: true }));
    check(`${screen}: paper is light`, darkShare < 0.15, darkShare);
    if (screen.startsWith('pulls')) check(`${screen}: and curves are drawn for paper`, blue > 3 * lightBlue, { blue, lightBlue });
  }
  await page.goto(`${server.address}#/pulls?a=17&b=18`);
  await page.locator('.plot-box canvas').first().waitFor();
  const ground = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  check('and the screen is dark afterwards', ground === 'rgb(22, 25, 29)', ground);
  await picture(page, 'paper-afterwards');
  await page.context().close();
}

const told = (page) => page.locator('.readout').first().innerText();
const named = (text) => /: ([AB] \d+) [\d.]/.exec(text)?.[1] ?? '';
const band = (page) => page.locator('.plot-box .uplot').first().getAttribute('data-band');

async function afterZoom(server) {
  const page = await open();
  await page.goto(`${server.address}#/pulls?a=11,12,13,14,15,16,17,18,19`);
  await page.waitForFunction(() => document.querySelectorAll('.by-row tbody tr').length === 9);
  const plot = page.locator('.plot-box').first();
  await plot.focus();
  for (const key of ['Home', ...Array(14).fill('ArrowRight'), 'ArrowDown', 'ArrowDown', 'ArrowDown']) await page.keyboard.press(key);
  const chosen = named(await told(page)), at = (await told(page)).split(':')[0];
  for (const key of ['+', '+', '+', '-', '0', '+']) {
    await page.keyboard.press(key);
    await page.waitForTimeout(80);
    check(`after ${key} the same curve is chosen, at the same speed`, chosen !== '' && named(await told(page)) === chosen && (await told(page)).split(':')[0] === at, [chosen, at, await told(page)]);
    check(`and the band drawn is its own`, await band(page) === chosen, [await band(page), chosen]);
  }
  await page.keyboard.press('0');
  const box = await plot.boundingBox(), y = (share) => box.y + box.height * share, x = (share) => box.x + box.width * share;
  for (const [from, to, height] of [[0.3, 0.5, 0.4], [0.2, 0.8, 0.5], [0.45, 0.6, 0.3]]) {
    await page.mouse.move(x(from), y(height));
    await page.mouse.down();
    await page.mouse.move(x(to), y(height), { steps: 4 });
    await page.mouse.up();
    await page.waitForTimeout(120);
    check('after a zoom by dragging, band and figure are of one curve', (await band(page)) === named(await told(page)), [await band(page), await told(page)]);
  }
  await picture(page, 'zoomed');
  await page.context().close();
}

export default async function paper() {
  const server = await serve(demoDay().book);
  await onPaper(server);
  await afterZoom(server);
  await stopInOrder(server);
}
