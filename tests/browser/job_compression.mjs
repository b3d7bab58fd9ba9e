// Compression and quench on the Engine screen: what the volume is made of adds up, the gap stands on its band with the source of
// the bounds, and both follow what is typed.
// Outside source: the sum itself; `engine check --json` is the peer for the figures.
import { ask, axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

export default async function compression() {
  const server = await serve(demoDay().book);
  const page = await open();
  await page.goto(`${server.address}#/engine?part=head`);
  const card = page.locator('.compression');
  await card.waitFor();
  const peer = ask('engine', 'check', 'examples/engines/hill-climb-six.yaml'), parts = peer.clearance_parts_m3;
  const sum = parts.chamber.map((c) => c + parts.gasket + parts.deck + (parts.crevice ?? 0) + (parts.dish ?? 0) - parts.dome);
  check('the parts add up to the volume', sum.every((v, i) => Math.abs(v - peer.clearance_volume_m3[i]) < 1e-12), [sum, peer.clearance_volume_m3]);
  check('the ratio is that of volume and stroke', sum.every((v, i) => Math.abs(1 + peer.swept_volume_m3 / v - peer.compression_ratio[i]) < 1e-9));
  const words = async () => (await card.innerText()).replaceAll('\u202f', ' ').replaceAll('\n', ' ');
  check('bounds stand there with their source', /Reported below 0\.80 mm and above 1\.60 mm \(common practice, no source\)/.test(await words()), await words());
  await page.getByLabel('gasket thickness', { exact: true }).fill('0.02 in');
  await page.waitForFunction(() => /is too small: below/.test(document.querySelector('.compression')?.textContent ?? ''));
  check('a gap that is too small is said in words', true);
  await page.getByLabel('gasket thickness', { exact: true }).fill('2 mm');
  await page.waitForFunction(() => /is too large: above/.test(document.querySelector('.compression')?.textContent ?? ''));
  check('and one that is too large', true);
  await axe(page, 'compression and quench');
  await card.scrollIntoViewIfNeeded();
  await picture(page, 'compression');
  await page.close();
  await stopInOrder(server);
}
