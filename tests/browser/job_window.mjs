// The window shows what is agreed on the Shop screen, with no limits and no name but the shop's; what was told after delivery is kept.
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

const labels = (page) => page.locator('.window .hero-label').allInnerTexts().then((all) => all.map((t) => t.replace(/\s+\S+$/, '').toLowerCase()));

export default async function windowView() {
  const server = await serve(demoDay().book);
  const page = await open(), glass = await open();
  await glass.goto(`${server.address}#/window`);
  await glass.locator('.window .hero-label').nth(2).waitFor();
  check('at first speed, torque and power', (await glass.locator('.window .hero').count()) === 3);
  await page.goto(`${server.address}#/shop`);
  const box = page.getByRole('checkbox', { name: 'oil pressure' });
  await box.check();
  await glass.locator('.window .hero-label', { hasText: 'oil pressure' }).waitFor();
  check('what is ticked stands in the window at once', true, await labels(glass));
  await page.getByRole('checkbox', { name: 'torque', exact: true }).uncheck();
  await glass.waitForFunction(() => !/torque/i.test(document.querySelector('.window').innerText));
  check('and what is not is gone, from the drawing too', await glass.locator('.window .trend').count() === 0);
  const text = await glass.locator('.window').innerText();
  check("nobody's name but the shop's", !/customer of the demo|Hill-climb/i.test(text), text);
  check('a channel that is none is refused', await page.evaluate(() => fetch('/api/v1/settings', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{"window":"owner"}' }).then((r) => r.status)) === 400);
  const cell = page.locator('form', { has: page.getByLabel('Torque arm') });
  await cell.getByLabel('Time zone').fill('Nowhere/Town');
  await cell.getByRole('button', { name: 'Keep' }).last().click();
  await cell.locator('.problem').waitFor({ timeout: 10000 });
  check('a zone that is none is refused beside its field, and the book goes on without it', (await cell.locator('label', { hasText: 'Time zone' }).innerText()).includes('Nowhere/Town') && await page.evaluate(() => fetch('/api/v1/book').then((r) => r.json()).then((b) => b.settings.zone)) !== 'Nowhere/Town', await cell.innerText());
  await cell.getByLabel('Time zone').fill('Europe/Berlin');
  await cell.getByRole('button', { name: 'Keep' }).last().click();
  await cell.locator('.problem').waitFor({ state: 'detached' });
  await cell.getByLabel('Torque arm').fill('four hundred');
  await cell.getByRole('button', { name: 'Keep' }).last().click();
  await cell.locator('label', { hasText: 'Torque arm' }).locator('.problem').waitFor({ timeout: 10000 });
  check("what is wrong with the cell's record stands beside its field", true);
  await cell.getByLabel('Torque arm').fill('400 mm');
  await page.evaluate(() => fetch('/api/v1/build/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{"build":"first"}' }));
  await page.getByLabel('What was said or done').fill('plugs look even');
  await page.getByLabel('Running time to add').fill('3 h');
  await page.locator('form', { has: page.getByLabel('What was said or done') }).getByRole('button', { name: 'Keep' }).click();
  await page.locator('.after', { hasText: 'plugs look even' }).waitFor();
  check('what was told after delivery stands with its running time', /3\.0\s*h/.test(await page.locator('.after').innerText()), await page.locator('.after').innerText());
  await axe(page, 'the shop with the window and after delivery');
  await axe(glass, 'the window');
  await page.locator('.after').scrollIntoViewIfNeeded();
  await picture(page, 'window-shop');
  await picture(glass, 'window');
  await page.close();
  await glass.close();
  await stopInOrder(server);
}
