// Arming on the live screen: disarmed by a button, said with its reason on two devices, a pull then kept and not judged, and armed again.
// Gauges of several readings: needle, band and words speak of one reading.
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

const send = (page, line) => page.evaluate((line) => fetch('/api/v1/live/control', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ line }) }).then((r) => r.status), line);

export default async function arming() {
  const server = await serve(demoDay().book);
  const page = await open(), other = await open({ viewport: { width: 390, height: 844 } });
  await page.goto(`${server.address}#/live`);
  await other.goto(`${server.address}#/live`);
  await page.getByLabel('Source').fill('practice:?rate=50&run=oil 90;coolant 80;wait 600');
  await page.getByRole('button', { name: 'Begin recording' }).click();
  await page.waitForFunction(() => /^[\d,]+$/.test(document.querySelector('.hero-value')?.textContent ?? ''));
  check('at first pulls are armed by the load', /Pulls are armed as the load comes on/.test(await page.locator('.arming-line').innerText()));
  await page.getByRole('button', { name: 'Disarm', exact: true }).click();
  await page.locator('.arming-line', { hasText: 'Disarmed by hand' }).waitFor();
  await other.locator('.arming-line', { hasText: 'Disarmed by hand' }).waitFor();
  check('both devices say that it is disarmed', true);
  await send(page, 'send sweep 2500 6500 900');
  await page.locator('.news').getByText(/this pull is not armed and will not be judged: disarmed by hand/).waitFor({ timeout: 30000 });
  check('a pull while disarmed says why it is not judged', true);
  const lit = await page.locator('.gauge').evaluateAll((all) => all.map((g) => g.querySelector('.gauge-label').textContent).filter((t) => /nearest to its limit of \d/.test(t)));
  check('gauges of several readings say which one they show', lit.length > 0, lit);
  await axe(page, 'the live screen, disarmed');
  await picture(page, 'arming-light');
  await picture(other, 'arming-390');
  await page.emulateMedia({ colorScheme: 'dark' });
  await picture(page, 'arming-dark');
  await page.getByRole('button', { name: 'Arm', exact: true }).and(page.locator(':enabled')).click({ timeout: 60000 });
  await other.locator('.arming-line', { hasText: 'rmed by the load' }).or(other.locator('.arming-line', { hasText: 'Pulls are armed' })).first().waitFor();
  check('and armed again', true);
  check('another word is refused', await send(page, 'armed') === 400);
  await page.getByRole('button', { name: 'Stop recording' }).click();
  await page.close();
  await other.close();
  await stopInOrder(server);
}
