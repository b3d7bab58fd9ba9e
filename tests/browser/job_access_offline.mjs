// Every screen after its server was lost: what access.mjs holds it to. What a device has kept is shown with its age, what it has not is said.
import { accessible } from './access.mjs';
import { check, demoDay, serve } from './harness.mjs';

export default async function offline() {
  const book = demoDay().book;
  for (const scheme of ['light', 'dark']) {
    const server = await serve(book);
    await accessible('offline', server.address, { schemes: [scheme], before: async (page) => {
      await server.stop('SIGKILL');
      await page.locator('.said.grave', { hasText: 'Not connected' }).first().waitFor({ timeout: 20000 });
      check('that the server is gone is said on the screen', true);
    } });
  }
}
