// How soon something is painted.
import { check, demoDay, open, serve, stopInOrder } from './harness.mjs';

export default async function paint() {
  const server = await serve(demoDay().book);
  const page = await open();
  await page.goto(`${server.address}#/pulls?a=34`);
  await page.waitForFunction(() => performance.getEntriesByName('first-contentful-paint').length > 0);
  const first = await page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0].startTime);
  console.log(`first paint ${Math.round(first)} ms`);
  check('something is painted within a second', first < 1000, first);
  await page.close();
  await stopInOrder(server);
}
