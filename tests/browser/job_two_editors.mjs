// Two browsers edit one engine: each sees what the other keeps at once, a conflict is shown field by field and not lost, and
// changes of different fields go together. The book alone is asked what came of it.
import { ask, check, demoDay, open, serve, stopInOrder } from './harness.mjs';

const field = (page, name) => page.getByLabel(name, { exact: true });
const keep = (page) => page.getByRole('button', { name: 'Keep in the book' }).click();
const kept = (page) => page.getByText('as kept in the book').waitFor();
const stored = (book) => ask('engine', 'show', '--book', book);

async function overOne(a, b) {
  await field(b, 'owner').fill('the second editor');
  await field(a, 'owner').fill('the first editor');
  await keep(a);
  await a.getByText('The engine is kept').waitFor();
  await b.locator('.conflict').waitFor();
  check('who edits is told at once that somebody else kept it', /owner: theirs the first editor, yours the second editor/.test(await b.locator('.conflict').innerText()), await b.locator('.conflict').innerText());
  check('a conflict is shown, not lost', await field(b, 'owner').inputValue() === 'the second editor');
  await keep(b);
  await b.locator('.conflict', { hasText: 'somebody else changed' }).waitFor();
  check('keeping it all the same is refused', true);
  await b.getByRole('button', { name: 'Replace theirs with mine' }).click();
  await kept(b);
  await a.waitForFunction(() => [...document.querySelectorAll('input')].some((i) => i.value === 'the second editor'));
  check('the other sees it at once', true);
}

async function otherFields(a, b, book) {
  await field(b, 'serial').fill('HC6-B');
  await field(a, 'owner').fill('the third hand');
  await keep(a);
  await b.locator('.conflict').waitFor();
  await b.getByRole('button', { name: 'Put my changes into theirs' }).click();
  check('changes of different fields go together', await field(b, 'owner').inputValue() === 'the third hand' && await field(b, 'serial').inputValue() === 'HC6-B');
  await keep(b);
  await kept(b);
  const now = stored(book);
  check('and both stand in the book', now.owner === 'the third hand' && now.serial === 'HC6-B', now);
}

async function theirs(a, b) {
  await field(b, 'owner').fill('mine, given up');
  await field(a, 'owner').fill('theirs, taken');
  await keep(a);
  await b.locator('.conflict').waitFor();
  await b.getByRole('button', { name: 'Load theirs' }).click();
  check('theirs is loaded', await field(b, 'owner').inputValue() === 'theirs, taken');
  await b.getByRole('button', { name: 'Undo' }).click();
  check('and what was given up comes back by undo', await field(b, 'owner').inputValue() === 'mine, given up');
  await b.getByRole('button', { name: 'Undo' }).click();
  await field(b, 'owner').fill('theirs, taken');
  await kept(b);
}

/* Both keep within the same moment, again and again: one of the two is told, and the book holds one of them whole. */
async function atOnce(a, b, book) {
  for (let i = 0; i < 5; i++) {
    await Promise.all([field(a, 'owner').fill(`a ${i}`), field(b, 'owner').fill(`b ${i}`)]);
    await Promise.all([keep(a), keep(b)]);
    const told = await Promise.race([a, b].map((page) => page.locator('.conflict').waitFor({ timeout: 10000 }).then(() => page)));
    const mine = told === a ? `a ${i}` : `b ${i}`, other = told === a ? `b ${i}` : `a ${i}`;
    check('of two at once one is told, and keeps what was typed', await field(told, 'owner').inputValue() === mine);
    check('and the book holds the other', stored(book).owner === other, [stored(book).owner, other]);
    await told.getByRole('button', { name: 'Load theirs' }).click();
    for (const page of [a, b]) await kept(page);
  }
}

export default async function twoEdit() {
  const book = demoDay().book, server = await serve(book);
  const a = await open(), b = await open();
  for (const page of [a, b]) { await page.goto(`${server.address}#/engine`); await field(page, 'owner').waitFor(); await page.waitForTimeout(400); }
  await overOne(a, b);
  await otherFields(a, b, book);
  await theirs(a, b);
  await atOnce(a, b, book);
  await field(a, 'bore').fill('3.4 psi');
  await a.getByText(/bore.*psi|psi.*length/).first().waitFor();
  check('a wrong unit is told at the field', true);
  await a.getByRole('button', { name: 'Undo' }).click();
  await a.close(); await b.close();
  await stopInOrder(server);
}
