// Every screen on a day with pulls, one under record: what access.mjs holds it to.
import { accessible, keys, motion } from './access.mjs';
import { demoDay, open, run, serve } from './harness.mjs';

export default async function busy() {
  const { book } = demoDay();
  run('build', 'start', '--book', book);
  const server = await serve(book), page = await open();
  await page.goto(server.address);
  await page.evaluate(() => fetch('/api/v1/live/start', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ sources: ['practice:?rate=20&run=oil 90;coolant 80;wait 1;speed 4000;wait 1200'] }) }));
  await accessible('busy', server.address);
  await keys(server.address);
  await motion(server.address);
  await page.evaluate(() => fetch('/api/v1/live/stop', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' }));
  await page.context().close();
  await server.stop();
}
