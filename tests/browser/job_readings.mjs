// A reading out of all reach is asked about, kept when somebody says so, and withdrawn with its reason.
import { ask, check, demoDay, open, picture, problems, serve } from './harness.mjs';

export default async function readings() {
  const book = demoDay().book;
  const server = await serve(book);
  const page = await open({ viewport: { width: 1000, height: 900 } });
  await page.goto(`${server.address}#/build`);
  await page.getByRole('button', { name: 'Begin the record' }).click();
  await page.getByRole('heading', { name: 'Measurements' }).waitFor();
  const kept = () => ask('build', 'show', '--book', book).measured.filter((m) => m.item === 'main clearance').length;
  const type = async (text) => {
    await page.getByLabel('Add').fill('main clearance');
    await page.getByLabel('At', { exact: true }).fill('main 3');
    await page.getByRole('textbox', { name: 'reads' }).fill(text);
    await page.getByRole('button', { name: 'Keep', exact: true }).first().click();
  };
  await type('60 mm');
  const asks = page.getByRole('alert').filter({ hasText: 'far outside' });
  await asks.waitFor();
  check('60 mm are asked about, in words without commands', !(await asks.innerText()).includes('--'), await asks.innerText());
  check('and not kept', kept() === 0);
  await asks.scrollIntoViewIfNeeded();
  await picture(page, 'build-asked');
  await page.getByRole('button', { name: 'That is right: keep it' }).click();
  await asks.waitFor({ state: 'detached' });
  check('confirmed, it is kept', kept() === 1);
  await page.getByText('1 reading', { exact: true }).click();
  await page.getByRole('button', { name: /^Withdraw: main clearance 3/ }).click();
  await page.getByLabel('Reason').fill('typed in the wrong unit');
  await page.getByRole('heading', { name: 'Readings as kept' }).scrollIntoViewIfNeeded();
  await picture(page, 'build-withdraw');
  await page.getByRole('button', { name: 'Withdraw', exact: true }).click();
  await page.getByRole('heading', { name: 'Readings as kept' }).waitFor({ state: 'detached' });
  check('withdrawn, it no longer counts', kept() === 0);
  /* the browser itself notes the answer of 422, which is meant */
  for (let i = problems.length; i-- > 0;) if (/422/.test(String(problems[i]))) problems.splice(i, 1);
  await page.close();
  await server.stop();
}
