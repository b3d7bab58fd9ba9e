// Every screen while a shut-down stands: what access.mjs holds it to.
import { accessible } from './access.mjs';
import { check, demoDay, logger, open, serve } from './harness.mjs';

export default async function alarm() {
  const server = await serve(demoDay().book), page = await open(), line = await logger(20, { 'Speed [rpm]': 3000, 'Torque [N.m]': 100, 'Oil pressure [bar]': 3, 'Oil temperature [degC]': 90 });
  await page.goto(`${server.address}#/live`);
  await page.evaluate((source) => fetch('/api/v1/live/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ sources: [source] }) }), line.source);
  await page.waitForFunction(() => /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''), null, { timeout: 30000 });
  line.set({ 'Oil pressure [bar]': 0.1 });
  await page.locator('.alarm.shut-down').first().waitFor({ timeout: 30000 });
  check('a shut-down stands', true);
  await accessible('alarm', server.address);
  line.close();
  await page.context().close();
  await server.stop();
}
