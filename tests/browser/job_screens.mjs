// Every screen, light and dark, wide and narrow: axe-core, nothing wider than the window, a picture each.
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

export default async function screens() {
  const server = await serve(demoDay().book);
  for (const [scheme, width] of [['light', 1440], ['dark', 1440], ['light', 390]]) {
    const page = await open({ colorScheme: scheme, viewport: { width, height: 900 } });
    for (const [screen, ready] of [['day', '.next-step'], ['live', '.heroes'], ['pulls?a=33,34,35&b=29,31', '.verdict-line'], ['engine', '.facts'], ['build', '.item, .first'], ['lash', '.lash, .first'], ['shop', 'table.list'], ['window', '.heroes']]) {
      await page.goto(`${server.address}#/${screen}`);
      await page.locator(ready).first().waitFor();
      await page.waitForTimeout(250);
      const name = screen.split('?')[0];
      await axe(page, `${name}, ${scheme}, ${width} px`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      check(`${name} fits ${width} px`, wide <= 0, wide);
      if (width === 1440) await picture(page, `${name}-${scheme}`);
    }
    await page.context().close();
  }
  await stopInOrder(server);
}
