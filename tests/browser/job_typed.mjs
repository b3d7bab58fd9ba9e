// What was typed and not kept: an engine's fields, a note, a mark, a reason, a reading. Another screen, a reload, Back, a second tab and a
// browser that was closed lose none of it; one field that cannot be read keeps nothing else from the book; a text that is too long
// is said to be, and not cut. The book alone is asked what came of it.
import { ask, axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

const field = (page, name) => page.getByLabel(name, { exact: true });
const to = async (page, screen, ready) => { await page.evaluate((hash) => { location.hash = hash; }, '#/' + screen); await page.locator(ready).first().waitFor(); };
const stored = (book) => ask('engine', 'show', '--book', book);
const keepEngine = (page) => page.getByRole('button', { name: 'Keep in the book' }).click();

async function engineDraft(page, server, book) {
  await page.goto(`${server.address}#/engine`);
  await field(page, 'owner').fill('typed and not kept');
  await page.getByText('changed, not kept yet').waitFor();
  check("the tab's title marks it", /^\* /.test(await page.title()), await page.title());
  await to(page, 'day', '.next-step');
  check('on another screen too', /^\* Test day/.test(await page.title()), await page.title());
  await to(page, 'engine', '.facts');
  check('an edit outlives another screen', await field(page, 'owner').inputValue() === 'typed and not kept', await field(page, 'owner').inputValue());
  await page.reload();
  await field(page, 'owner').waitFor();
  await page.waitForFunction(() => [...document.querySelectorAll('input')].some((i) => i.value === 'typed and not kept'), null, { timeout: 5000 }).catch(() => 0);
  check('and a reload', await field(page, 'owner').inputValue() === 'typed and not kept');
  await page.getByText(/as typed on this device at/).waitFor();
  check('and says since when', true);
  const tab = await page.context().newPage();
  await tab.goto(`${server.address}#/engine`);
  await tab.getByText(/as typed on this device at/).waitFor();
  check('another tab of this device has it', await field(tab, 'owner').inputValue() === 'typed and not kept');
  await tab.close();
  await axe(page, 'an engine that was typed and not kept');
  await picture(page, 'typed-engine');
  check('the book has nothing of it', stored(book).owner !== 'typed and not kept');
  await page.getByRole('button', { name: 'Put my changes away' }).click();
  await page.getByText('as kept in the book').waitFor();
  await page.locator('.said').getByRole('button', { name: 'Take back' }).click();
  check('what was put away comes back', await field(page, 'owner').inputValue() === 'typed and not kept');
}

async function changedMeanwhile(page, server, book) {
  await to(page, 'day', '.next-step');
  const other = await open();
  await other.goto(`${server.address}#/engine`);
  await field(other, 'serial').fill('HC6-X');
  await keepEngine(other);
  await other.getByText('The engine is kept').waitFor();
  await other.context().close();
  await to(page, 'engine', '.facts');
  await page.locator('.conflict', { hasText: 'serial: theirs HC6-X' }).waitFor();
  check('what somebody else kept meanwhile is said', true);
  await page.getByRole('button', { name: 'Put my changes into theirs' }).click();
  await keepEngine(page);
  await page.getByText('as kept in the book').waitFor();
  const now = stored(book);
  check('both are in the book', now.owner === 'typed and not kept' && now.serial === 'HC6-X', [now.owner, now.serial]);
  await page.reload();
  await page.getByText('as kept in the book').waitFor();
  check('and no draft is left', !/^\* /.test(await page.title()) && await page.evaluate(() => Object.keys(localStorage).filter((k) => k.includes('-engine-')).filter((k) => k.startsWith('draft-')).length) === 0);
}

async function unreadable(page, server, book) {
  await field(page, 'bore').fill('3.4 psi');
  await field(page, 'stroke').fill('long');
  await field(page, 'owner').fill('kept all the same');
  await page.locator('.faults', { hasText: '2 fields cannot be read' }).waitFor();
  check('every field that cannot be read is told at once, at its place', await page.locator('.field.wrong').count() === 2);
  await axe(page, 'an engine with two fields that cannot be read');
  await picture(page, 'typed-unreadable');
  const bore = stored(book).bore_m;
  await keepEngine(page);
  await page.locator('.said.grave', { hasText: 'Kept in the book, except bore, stroke' }).waitFor();
  const now = stored(book);
  check('the rest is kept, and the book has what it had of those', now.owner === 'kept all the same' && now.bore_m === bore, [now.owner, now.bore_m]);
  check('and they stay in the form', await field(page, 'bore').inputValue() === '3.4 psi' && await field(page, 'stroke').inputValue() === 'long');
  await page.reload();
  await field(page, 'bore').waitFor();
  await page.locator('.faults').waitFor();
  check('also over a reload', await field(page, 'bore').inputValue() === '3.4 psi');
  await page.getByRole('button', { name: 'Put my changes away' }).click();
  await page.getByText('as kept in the book').waitFor();
}

async function newEngine(page) {
  await to(page, 'engine?engine=new', '.field');
  await field(page, 'name').fill('half an engine');
  await to(page, 'shop', 'table.list');
  await to(page, 'engine?engine=new', '.field');
  check('a new engine that is half typed waits', await field(page, 'name').inputValue() === 'half an engine');
  await to(page, 'engine', '.facts');
  check('and is not mixed with another one', await field(page, 'name').inputValue() !== 'half an engine');
}

const LONG = 'smoke '.repeat(16667).slice(0, 100000);
async function notes(page, server, book) {
  await to(page, 'day', '.next-step');
  await field(page, 'Note').fill('half a no');
  await to(page, 'pulls', '.list-turn');
  await page.goBack();
  await page.locator('.next-step').waitFor();
  check('a note half typed outlives another screen', await field(page, 'Note').inputValue() === 'half a no');
  await page.reload();
  await page.locator('.next-step').waitFor();
  check('and a reload', await field(page, 'Note').inputValue() === 'half a no');
  const tab = await page.context().newPage();
  await tab.goto(`${server.address}#/day`);
  await field(tab, 'Note').waitFor();
  await field(tab, 'Note').fill('a note,\nof two lines');
  await page.waitForFunction(() => document.querySelector('textarea')?.value === 'a note,\nof two lines', null, { timeout: 5000 }).catch(() => 0);
  await tab.locator('form', { has: field(tab, 'Note') }).getByRole('button', { name: 'Keep' }).click();
  await tab.locator('.notes', { hasText: 'of two lines' }).waitFor();
  await page.waitForFunction(() => document.querySelector('textarea')?.value === '', null, { timeout: 5000 }).catch(() => 0);
  check('what one tab has kept is not offered by the other again', await field(page, 'Note').inputValue() === '', await field(page, 'Note').inputValue());
  await tab.close();
  const kept = () => page.evaluate(() => fetch('/api/v1/notes?day=' + new Date().toISOString().slice(0, 10)).then((r) => r.json())).then((n) => n.notes.map((one) => one.text));
  check('a note of two lines is one', (await kept()).includes('a note,\nof two lines'), await kept());
  await field(page, 'Note').fill(LONG);
  check('a text of 100,000 characters is not cut', (await field(page, 'Note').inputValue()).length === 100000, (await field(page, 'Note').inputValue()).length);
  await page.getByText(/100,000 characters, and at most 2,000 are kept/).waitFor();
  await axe(page, 'a note that is too long');
  await page.locator('form', { has: field(page, 'Note') }).getByRole('button', { name: 'Keep' }).click();
  await page.waitForTimeout(300);
  check('and is not sent', (await kept()).every((t) => t.length < 3000) && (await field(page, 'Note').inputValue()).length === 100000);
  await picture(page, 'typed-long');
  await field(page, 'Note').fill('');
}

async function others(page) {
  await to(page, 'shop', 'table.list');
  await field(page, 'Read').fill('0.3 N·m');
  await to(page, 'pulls?a=17', '.plot-box canvas');
  await page.getByText('Discard it').click();
  await page.getByLabel('Reason').first().fill('the oil was');
  await to(page, 'live', '.heroes');
  await page.getByLabel('Changed').fill('timing ring');
  await page.reload();
  await page.locator('.heroes').waitFor();
  check('what changed waits on Live', await page.getByLabel('Changed').inputValue() === 'timing ring');
  await to(page, 'pulls?a=17', '.plot-box canvas');
  check('a reason waits with its pull', await page.getByLabel('Reason').first().inputValue() === 'the oil was');
  await to(page, 'pulls?a=16', '.plot-box canvas');
  await page.waitForFunction(() => !document.querySelector('.line-form input')?.value, null, { timeout: 5000 }).catch(() => 0);
  check('and not with another one', await page.getByLabel('Reason').first().inputValue() === '');
  await to(page, 'shop', 'table.list');
  check('a reading waits in Shop', await field(page, 'Read').inputValue() === '0.3 N·m');
}

export default async function typed() {
  const book = demoDay().book, server = await serve(book);
  const page = await open();
  await engineDraft(page, server, book);
  await changedMeanwhile(page, server, book);
  await unreadable(page, server, book);
  await newEngine(page);
  await notes(page, server, book);
  await others(page);
  await page.context().close();
  await stopInOrder(server);
}
