// Search: a question typed row by row, its refusal beside what was typed, the trade-offs as points by pointer and by key, and one of them opened in
// Predict, predicted finely, and both put on paper. Outside sources: WCAG 2.2 A and AA as axe-core checks them; Poppler's pdftotext and pdfinfo, which read what the
// browser printed. Few designs, three speeds: whether a front is true is asked elsewhere.
import { execFileSync } from 'node:child_process';
import { copyFileSync } from 'node:fs';
import { join } from 'node:path';
import { axe, check, folder, open, picture, pictures, run, serve, stopInOrder } from './harness.mjs';

/* Each step aloud, with its time: on a busy machine a search takes minutes. */
const began = Date.now();
const step = (says) => console.log(`  ${((Date.now() - began) / 1000).toFixed(0)} s: ${says}`);

/* A screen as the browser's own print has it: its words in one line, and how many sheets. */
async function onPaper(page, name) {
  const path = join(folder, name + '.pdf');
  await page.pdf({ format: 'A4', path, printBackground: true });
  if (pictures) copyFileSync(path, join(pictures, name + '.pdf'));
  const says = execFileSync('pdftotext', ['-layout', path, '-'], { encoding: 'utf8' }).replace(/\s+/g, ' ');
  return { says, sheets: Number(/Pages:\s+(\d+)/.exec(execFileSync('pdfinfo', [path], { encoding: 'utf8' }))?.[1]) };
}
const oneLine = (text) => text.replace(/\s+/g, ' ').trim();

async function asked(page) {
  const row = page.locator('fieldset', { hasText: 'What may be changed' }).locator('.variant-row');
  const field = row.nth(0).getByLabel('field', { exact: true });
  await page.waitForFunction((one) => one.value !== '', await field.elementHandle(), { timeout: 15000 });
  const names = await page.locator('.variant-row input[list], #search-fields option').evaluateAll((all) => all.map((one) => one.value));
  check('what may be changed is named in words', names.includes('runner length') && !names.some((one) => one.includes('_')), names);
  await field.fill('Compression');
  check('and is known by them however they are written', await field.inputValue() === 'compression', await field.inputValue());
  await field.fill('inlet.duration');
  check('a figure by its name in the file stays as it is typed', await field.inputValue() === 'inlet.duration', await field.inputValue());
  await field.fill('runner length');
  await row.nth(0).getByLabel('from').fill('400 mm');
  await row.nth(0).getByLabel('to', { exact: true }).fill('200 mm');
  await page.getByLabel('speeds').fill('3000; 5500');
  const wish = page.locator('fieldset', { hasText: 'What is wanted' }).locator('.variant-row').first(); /* against the power at 5,500 rpm: what a long runner gains here it loses there */
  await wish.getByLabel('from').fill('3000 rpm');
  await wish.getByLabel('to', { exact: true }).fill('3000 rpm');
  await page.getByLabel('combinations to begin with').fill('10');
  await page.getByLabel('rounds of 15 after them').fill('0');
  await page.getByRole('button', { name: 'Search', exact: true }).click();
  await page.locator('.problem').waitFor();
  step('the wrong range was refused');
  const said = await page.locator('.problem').innerText();
  check('an empty range is refused, and which', said.includes('runner_length') && said.includes('empty'), said);
  await row.nth(0).getByLabel('from').fill('200 mm');
  await row.nth(0).getByLabel('to', { exact: true }).fill('700 mm');
  await row.nth(2).getByLabel('from').fill('8');
  await row.nth(2).getByLabel('to', { exact: true }).fill('9');
  await page.getByRole('button', { name: 'Add what differs' }).click();
  await page.getByRole('button', { name: 'Search', exact: true }).click();
  const shares = new Set();
  for (const until = Date.now() + 600000; Date.now() < until && await page.locator('.search-point').count() === 0;) {
    const running = await page.locator('[role=status]', { hasText: 'Running' }).allInnerTexts();
    if (running[0] && !shares.has(running[0])) { shares.add(running[0]); step(running[0]); }
    await page.waitForTimeout(300);
  }
  step('answered');
  check('progress is shown while it runs', shares.size >= 1, [...shares]);
  check('what was refused is not said any more', await page.locator('.problem').count() === 0);
}

async function chosen(page) {
  const points = page.locator('.search-point'), count = await points.count();
  check('each of the front is a point and a row', count >= 1 && await page.locator('table', { hasText: 'as it is' }).locator('tbody tr').count() === count + 1, count);
  await points.nth(count - 1).focus();
  await page.keyboard.press('Enter');
  await page.locator('section[aria-label="Chosen"] h3', { hasText: `Number ${count}` }).waitFor({ timeout: 10000 });
  check('a point is chosen by key', await points.nth(count - 1).getAttribute('aria-pressed') === 'true', count);
  check('each line of the parallel axes is a row', await page.locator('.search-line').count() === (count > 1 ? count : 0), count);
  check('what it must stand: a table of corners for the chosen one', await page.locator('section[aria-label="At the corners of what it must stand"] tbody tr').count() === 2);
  check('from which difference on rows are told apart', (await page.locator('.rest').innerText()).includes('told apart (95 %)'));
  check('what makes the difference is told', (await page.locator('section[aria-label="What makes the difference"]').innerText()).includes('%'));
  const changes = await page.locator('.search-chosen li').allInnerTexts();
  check('its changes have units', changes.some((c) => c.startsWith('runner length') && c.includes('mm')) && changes.some((c) => c.startsWith('compression')), changes);
  return changes;
}

/* What was chosen and what it came to, on a sheet that can be handed to somebody who has no screen. */
async function printedAnswer(page, changes) {
  const { says, sheets } = await onPaper(page, 'search-on-paper');
  for (const change of changes) check(`on paper: ${change}`, says.includes(oneLine(change)), says);
  const rows = await page.locator('table', { hasText: 'as it is' }).locator('tbody tr').allInnerTexts();
  for (const row of rows) for (const figure of row.match(/\d+\.\d/g) ?? []) check(`on paper: the figure ${figure}`, says.includes(figure), row);
  check('on paper: predicted, not measured', says.includes('Predicted, not measured'), says);
  check('on paper: nothing to press', !says.includes('Open in Predict') && !says.includes('Cancel'), says);
  check('on paper: few sheets', sheets >= 1 && sheets <= 4, sheets);
}

async function printedPrediction(page) {
  const gain = oneLine(await page.locator('.predict-gain').innerText()), summary = await page.locator('.predict-says').first().innerText();
  const { says, sheets } = await onPaper(page, 'search-predicted-on-paper');
  check('on paper: which combination', says.includes(oneLine(await page.locator('h1').innerText())), says);
  check('on paper: what it is changed by', says.includes('runner length') && says.includes('compression'), says);
  check('on paper: the stage', says.includes(oneLine(await page.locator('.stage-fine').innerText())), says);
  check('on paper: the difference', says.includes(gain), [gain, says]);
  for (const figure of summary.match(/\d[\d,]*(?:\.\d+)?/g) ?? []) check(`on paper: ${figure} of what is told`, says.includes(figure), says);
  check('on paper: nothing to press', !says.includes('Copy into the Engine form') && !says.includes('As kept in the book'), says);
  check('on paper: few sheets', sheets >= 1 && sheets <= 4, sheets);
}

/* What is told beside the curve is of the engine with its changes, and a turn goes on from there. */
async function asChanged(page, changes) {
  const of = (name) => Number(/[\d.]+/.exec(changes.find((c) => c.startsWith(name)))[0]);
  const summary = oneLine(await page.locator('.predict-says').first().innerText()), ratio = Number(/Compression ([\d.]+)/.exec(summary)?.[1]);
  check('the ratio told is the chosen one', Math.abs(ratio - of('compression')) < 0.006, [summary, changes]);
  const slider = 1000 * Number(await page.locator('#turn-breathing-runner_length').inputValue());
  check('the slider stands where the combination is', Math.abs(slider - of('runner length')) < 0.6, [slider, changes]);
}

async function opened(page, server, changes) {
  await page.getByRole('button', { name: 'Open in Predict' }).click();
  step('opened in Predict');
  await page.locator('.stage-fine').waitFor({ timeout: 600000 });
  step('predicted finely');
  const base = await page.locator('header.headline').innerText();
  check('the combination is the base of the prediction', base.includes('runner length') && base.includes('compression'), base);
  await asChanged(page, changes);
  await picture(page, 'search-predicted');
  await printedPrediction(page);
  await page.goto(`${server.address}#/search`);
  check('the answer is still there', await page.locator('.search-point').count() >= 1);
}

export default async function search() {
  const book = join(folder, 'search.book');
  run('engine', 'add', 'examples/engines/flat-four.yaml', '--book', book);
  const server = await serve(book);
  const page = await open();
  await page.goto(`${server.address}#/search`);
  await page.getByRole('heading', { name: 'Search', level: 1 }).waitFor();
  await axe(page, 'search, empty');
  await asked(page);
  const changes = await chosen(page);
  await axe(page, 'search, answered');
  await printedAnswer(page, changes);
  await page.evaluate(() => scrollTo(0, 0));
  await picture(page, 'search');
  await page.setViewportSize({ width: 390, height: 844 });
  check('a phone needs no scrolling to the side', await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), await page.evaluate(() => document.documentElement.scrollWidth));
  await picture(page, 'search-phone');
  await page.setViewportSize({ width: 1440, height: 900 });
  await opened(page, server, changes);
  await page.context().close();
  await stopInOrder(server);
}
