// The engine on the page: a short page a part with its drawing, a bare figure in the unit beside its field, fuel from the program's list, every fault
// at once with a way to its field, undo and redo, a draft that outlives the tab's sleep, and two engines side by side with what differs first.
// The peer is the command line: what `engine show` says is in the book.
import { join } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, problems, serve, stopInOrder } from './harness.mjs';

const field = (page, name) => page.getByLabel(name, { exact: true });

async function parts(page) {
  const tabs = page.locator('.part-tabs a'), seen = new Set();
  for (let i = 0; i < await tabs.count(); i++) {
    await tabs.nth(i).click();
    await page.waitForFunction((n) => document.querySelectorAll('.part-tabs a')[n]?.getAttribute('aria-current') === 'page', i);
    const shown = await page.locator('.part-form > div .field').count();
    check(`page ${i + 1} is short`, shown > 0 && shown <= 16, shown);
    for (const id of await page.locator('.part-form .field :is(input, select)').evaluateAll((all) => all.map((e) => e.id))) seen.add(id);
  }
  const all = await page.evaluate(() => fetch('/api/v1/engine-fields').then((r) => r.json()).then((a) => a.groups.flatMap((g) => g.fields.map((f) => `f-${g.key}-${f.name}`))));
  check('every field of the table has a page', all.every((id) => seen.has(id)), all.filter((id) => !seen.has(id)));
}

async function typing(page, book) {
  await page.locator('.part-tabs a', { hasText: 'Block and crank' }).click();
  await page.locator('.drawing svg').first().waitFor();
  check('the cylinder is drawn, and says what is to scale', /to scale: bore 8\d/.test((await page.locator('.drawing').first().innerText()).replaceAll('\u202f', ' ')), await page.locator('.drawing').first().innerText());
  const before = await field(page, 'rod length').inputValue();
  await field(page, 'rod length').fill('141');
  await field(page, 'rod length').blur();
  check('a bare figure gets the unit beside its field, where one sees it', await field(page, 'rod length').inputValue() === '141 mm', await field(page, 'rod length').inputValue());
  check('the title says that something is not kept', /^\* /.test(await page.title()), await page.title());
  const undo = page.getByRole('button', { name: 'Undo', exact: true }), redo = page.getByRole('button', { name: 'Redo', exact: true });
  while (await undo.isEnabled()) await undo.click();
  check('undo goes back to what was there', await field(page, 'rod length').inputValue() === before, [before, await field(page, 'rod length').inputValue()]);
  while (await redo.isEnabled()) await redo.click();
  check('redo goes forth again', await field(page, 'rod length').inputValue() === '141 mm');
  await page.locator('.part-tabs a', { hasText: 'Fuel and ignition' }).click();
  const fuels = await page.locator('datalist[id$="-fuel-offers"] option').evaluateAll((all) => all.map((o) => o.value));
  check('fuels are offered from the table of the program', ['petrol', 'E85', 'methanol'].every((f) => fuels.includes(f)), fuels);
  await page.locator('.part-tabs a', { hasText: 'What is agreed' }).click();
  await field(page, 'bore').fill('3.4 psi');
  await page.locator('.part-tabs a', { hasText: 'Exhaust' }).click();
  await field(page, 'primary length').fill('long');
  await page.locator('.faults li').nth(1).waitFor();
  check('both faults stand there at once, and at their tabs', await page.locator('.faults li').count() === 2 && await page.locator('.part-tabs .badge.grave').count() === 2);
  await axe(page, 'an engine with faults on two pages');
  await picture(page, 'engine-faults');
  await page.locator('.faults li', { hasText: 'bore' }).getByRole('button').click();
  await page.waitForFunction(() => document.activeElement?.id === 'f--bore');
  check('a fault leads to its field', await page.locator('.part-tabs a[aria-current]').innerText().then((s) => s.includes('What is agreed')));
  await field(page, 'bore').fill('86 mm');
  await page.locator('.part-tabs a', { hasText: 'Exhaust' }).click();
  await field(page, 'primary length').fill('860 mm');
  await page.locator('.faults').waitFor({ state: 'detached' });
  await page.locator('.drawing').first().waitFor();
  check('the pipes are drawn to one scale', /primary 860/.test((await page.locator('.drawing svg').first().innerHTML()).replaceAll('\u202f', ' ')), await page.locator('.drawing svg').first().innerHTML());
  await picture(page, 'engine-exhaust');
  await page.getByRole('button', { name: 'Keep in the book' }).click();
  await page.getByText('The engine is kept in the book.').waitFor();
  const shown = JSON.stringify(ask('engine', 'show', '--book', book));
  check('and the book has it', shown.includes('141 mm') || shown.includes('0.141'), shown.slice(0, 400));
}

async function beside(page) {
  const own = await page.evaluate(() => fetch('/api/v1/book').then((r) => r.json()).then((b) => b.engine_id));
  const made = await page.evaluate((id) => fetch('/api/v1/engines/' + id).then((r) => r.json()).then((e) => fetch('/api/v1/engines', { method: 'PUT', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ typed: { ...e.typed, name: 'Its sister', bore: '86.5 mm' } }) })).then((r) => r.json()), own);
  await page.goto(page.url().replace(/#.*/, `#/engine?engine=${own}`)); /* the last that was added is the one in the cell */
  await page.reload();
  const card = page.locator('.engine-beside');
  await card.getByLabel('Beside').selectOption(String(made.id));
  await card.locator('table').first().waitFor();
  const rows = await card.locator('table').first().locator('tbody th').allInnerTexts();
  check('only what differs stands first', rows.sort().join() === 'bore,name', rows);
  check('the address holds it', (await page.evaluate(() => location.hash)).includes('beside=' + made.id));
  await card.getByText(/figures that follow differ/).waitFor(); /* worked out by the server, after the fields */
  check('figures that follow and differ are counted', /figures that follow differ/.test(await card.innerText()), await card.innerText());
  await axe(page, 'two engines side by side');
  await picture(page, 'engine-beside');
}

/* A first engine, kept from another part than the first: that it is kept stays said, and its page stays. */
async function keptWhereItWas() {
  const server = await serve(join(folder, 'first-engine.book')), page = await open({ viewport: { width: 1280, height: 900 } });
  await page.goto(`${server.address}#/engine`);
  await page.locator('#f--name').fill('First of the shop');
  await page.locator('.part-tabs a[href*="part=train"]').click();
  await page.locator('#f-cam-lifter').selectOption('bucket');
  await page.getByRole('button', { name: 'Keep in the book' }).click();
  await page.waitForFunction(() => fetch('/api/v1/engines/1').then((r) => r.ok), null, { timeout: 15000 });
  await page.waitForTimeout(1500);
  check('that the engine is kept stays said', await page.getByText('The engine is kept in the book.').count() === 1);
  check('and its part stays in sight', await page.locator('.part-tabs a[aria-current="page"]').getAttribute('href').then((href) => href.includes('part=train')));
  await page.locator('.bar nav a[href="#/day"]').click();
  await page.waitForTimeout(500);
  check('on another screen it is gone', await page.getByText('The engine is kept in the book.').count() === 0);
  await page.close();
  await stopInOrder(server);
}

export default async function enginePage() {
  await keptWhereItWas();
  const book = demoDay().book, server = await serve(book), page = await open({ viewport: { width: 1280, height: 900 } });
  await page.goto(`${server.address}#/engine`);
  await page.locator('.part-form').waitFor();
  await page.locator('.facts').first().waitFor();
  await picture(page, 'engine-short');
  await parts(page);
  await typing(page, book);
  await beside(page);
  await page.emulateMedia({ colorScheme: 'dark' });
  await page.goto(`${server.address}#/engine?part=cam`);
  await page.locator('.plot-box canvas').first().waitFor();
  await page.waitForTimeout(400);
  await axe(page, 'the cam in the dark');
  await picture(page, 'engine-cam-dark');
  const phone = await open({ viewport: { width: 390, height: 844 } });
  await phone.goto(`${server.address}#/engine?part=block`);
  await phone.locator('.drawing').waitFor();
  check('no sideways scrolling on a phone', await phone.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await picture(phone, 'engine-phone');
  for (let i = problems.length; i-- > 0;) if (/400/.test(String(problems[i]))) problems.splice(i, 1); /* refused on purpose */
  await phone.close();
  await page.close();
  await stopInOrder(server);
}
