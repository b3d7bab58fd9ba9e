// Every screen while a shut-down stands: what access.mjs holds it to. On Live the curve keeps its axis above the actions, in one screen, under one
// alarm and under several.
import { accessible } from './access.mjs';
import { check, demoDay, logger, open, picture, serve } from './harness.mjs';

/* What of the curve lies behind the actions or below the fold, in px, by screen. */
async function curveInSight(page, under) {
  for (const [width, height] of [[1280, 720], [1920, 1080], [1180, 820], [1024, 768]]) {
    await page.setViewportSize({ width, height });
    await page.evaluate(() => scrollTo(0, 0));
    await page.waitForTimeout(300);
    const [canvas, actions, tall] = await page.evaluate(() => ['.live-curve canvas', '.live-actions'].map((one) => document.querySelector(one).getBoundingClientRect()).map((b) => [b.top, b.bottom]).concat(innerHeight));
    check(`${under}: the curve and its axis lie above the actions at ${width} x ${height}`, canvas[1] <= actions[0] + 1 && canvas[1] - canvas[0] >= 70 && actions[1] <= tall + 1, [canvas, actions, tall]);
    await picture(page, `alarm-curve-${under.replaceAll(' ', '-')}-${width}`);
  }
}

export default async function alarm() {
  const server = await serve(demoDay().book), page = await open(), line = await logger(20, { 'Speed [rpm]': 3000, 'Torque [N.m]': 100, 'Oil pressure [bar]': 3, 'Oil temperature [degC]': 90 });
  await page.goto(`${server.address}#/live`);
  await page.evaluate((source) => fetch('/api/v1/live/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ sources: [source] }) }), line.source);
  await page.waitForFunction(() => /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''), null, { timeout: 30000 });
  line.set({ 'Oil pressure [bar]': 0.1 });
  await page.locator('.alarm.shut-down').first().waitFor({ timeout: 30000 });
  check('a shut-down stands', true);
  await curveInSight(page, 'one alarm');
  line.set({ 'Oil temperature [degC]': 150 });
  await page.locator('.alarm-all').waitFor({ timeout: 30000 });
  await curveInSight(page, 'several alarms');
  await accessible('alarm', server.address);
  line.close();
  await page.context().close();
  await server.stop();
}
