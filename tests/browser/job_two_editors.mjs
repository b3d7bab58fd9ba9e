// Two browsers edit one engine: the conflict is shown, not lost.
import { check, demoDay, open, serve, stopInOrder } from './harness.mjs';

export default async function twoEdit() {
  const server = await serve(demoDay().book);
  const a = await open(), b = await open();
  for (const page of [a, b]) { await page.goto(`${server.address}#/engine`); await page.getByLabel('owner', { exact: true }).waitFor(); await page.waitForTimeout(400); }
  await b.getByLabel('owner', { exact: true }).fill('the second editor');
  await a.getByLabel('owner', { exact: true }).fill('the first editor');
  await a.getByRole('button', { name: 'Keep in the book' }).click();
  await a.getByText('The engine is kept').waitFor();
  await b.getByRole('button', { name: 'Keep in the book' }).click();
  await b.getByText('somebody else changed').waitFor();
  check('a conflict is shown, not lost', await b.getByLabel('owner', { exact: true }).inputValue() === 'the second editor');
  await b.getByRole('button', { name: 'Put mine over it' }).click();
  await b.getByText('The engine is kept').waitFor();
  await a.waitForFunction(() => [...document.querySelectorAll('input')].some((i) => i.value === 'the second editor'));
  check('the other sees it at once', true);
  await a.getByLabel('bore', { exact: true }).fill('3.4 psi');
  await a.getByText(/bore.*psi|psi.*length/).first().waitFor();
  check('a wrong unit is told at the field', true);
  await a.getByRole('button', { name: 'Undo' }).click();
  await a.close(); await b.close();
  await stopInOrder(server);
}
