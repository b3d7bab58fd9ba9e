// Every screen of a new shop, in whose book nothing stands yet: what access.mjs holds it to.
import { join } from 'node:path';
import { accessible } from './access.mjs';
import { folder, serve } from './harness.mjs';

export default async function empty() {
  const server = await serve(join(folder, 'empty.book'));
  await accessible('empty', server.address);
  await server.stop();
}
