// Notes pinned on a curve: taken from a click, drawn and told at their speed, in the drawing, on the report; the second press, the wrong speed, two
// lines, a reload; taken back with a reason. Outside: the report's words by pdftotext (poppler), SVG 1.1 by the browser's own parser.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, serve, stopInOrder } from './harness.mjs';

const notes = (page) => page.locator('.curve-notes');
const dots = (page) => page.evaluate(() => { /* what is drawn in the flag's colour, of the first plot */
  const c = document.querySelector('.work .plot-box canvas'), d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
  let sum = 0;
  for (let i = 0; i < d.length; i += 4) sum = (sum * 31 + d[i] + d[i + 1] + d[i + 2] + d[i + 3]) >>> 0;
  return sum;
});
const kept = (page, pull) => page.evaluate((id) => fetch(`/api/v1/curve-notes?pulls=${id}`).then((r) => r.json()), pull).then((a) => a.curves[0].notes);

async function reaches(page, test, says) {
  for (let n = 0; n < 50; n++) { if (await test()) { check(says, true); return; } await page.waitForTimeout(100); }
  check(says, false);
}

async function pinned(page, server) {
  await page.goto(`${server.address}#/pulls?a=17&b=18`);
  await page.locator('.work .plot-box canvas').nth(1).waitFor();
  await notes(page).getByRole('textbox', { name: 'Note' }).waitFor();
  await page.waitForTimeout(700);
  const bare = await dots(page), box = await page.locator('.work .u-over').first().boundingBox();
  await page.mouse.click(box.x + box.width * 0.5, box.y + box.height * 0.4);
  await page.locator('.explain header').waitFor();
  const speed = Number(await notes(page).getByLabel('At').inputValue());
  check('a click on the curve gives the speed', speed > 2500 && speed < 7000, speed);
  await notes(page).getByRole('textbox', { name: 'Note' }).fill('dip "here" <b>');
  await notes(page).getByRole('button', { name: 'Pin it' }).dblclick();
  await notes(page).locator('ol li').first().waitFor();
  await page.waitForTimeout(500);
  const pull = Number(/pull (\d+)/.exec(await notes(page).locator('ol li').innerText())[1]), all = await kept(page, pull);
  check('a double press keeps one', all.length === 1 && all[0].text === 'dip "here" <b>' && Math.abs(all[0].speed_rpm - speed) < 1, all);
  check('the form is empty again', await notes(page).getByRole('textbox', { name: 'Note' }).inputValue() === '');
  await reaches(page, async () => await dots(page) !== bare, 'it is drawn on the plot');
  await page.locator('.work .u-over').first().scrollIntoViewIfNeeded();
  await page.evaluate(() => { scrollTo(0, 0); });
  await page.waitForTimeout(300);
  const again = await page.locator('.work .u-over').first().boundingBox();
  await page.mouse.move(again.x + again.width * 0.5 + 1, again.y + again.height * 0.4);
  await reaches(page, async () => /Note 1: dip "here" <b>/.test(await page.locator('.readout').first().innerText()), 'and told where the cursor stands');
  await axe(page, 'a note on a curve');
  await picture(page, 'curve-note');
  const [svg] = await Promise.all([page.waitForEvent('download'), page.locator('.plot .take').first().getByRole('button', { name: 'SVG' }).click()]);
  const drawing = readFileSync(await svg.path(), 'utf8');
  check('the drawing has its number', await page.evaluate((text) => [...new DOMParser().parseFromString(text, 'image/svg+xml').querySelectorAll('circle[r="8"]')].length, drawing) === 1);
  return { pull, speed };
}

async function refused(page, server) {
  const place = notes(page);
  await place.getByLabel('At').fill('99000');
  await place.getByRole('textbox', { name: 'Note' }).fill('far out');
  await place.getByRole('button', { name: 'Pin it' }).click();
  await page.getByText(/99000 rpm is not on the curve of pull \d+, which runs from/).first().waitFor();
  check('what was typed stays', await place.getByRole('textbox', { name: 'Note' }).inputValue() === 'far out');
  await page.reload();
  await place.getByRole('textbox', { name: 'Note' }).waitFor();
  check('also after a reload', await place.getByRole('textbox', { name: 'Note' }).inputValue() === 'far out');
  await place.getByLabel('Curve of').selectOption('18');
  await place.getByLabel('At').fill('66 rev/s');
  await place.getByRole('button', { name: 'Pin it' }).click();
  await place.locator('ol li').nth(1).waitFor();
  check('another unit, the other curve', (await kept(page, 18)).some((n) => n.text === 'far out' && Math.abs(n.speed_rpm - 3960) < 1), await kept(page, 18));
}

async function takenBack(page, server, { pull }, book) {
  const pdf = join(folder, 'noted.pdf');
  const words = async () => { writeFileSync(pdf, await (await page.request.get(`${server.address}api/v1/report?pulls=${pull}`)).body()); return execFileSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8' }); };
  check('the report says it', /dip "here" <b>/.test(await words()));
  const row = notes(page).locator('ol li', { hasText: 'dip' });
  await row.getByText('Take it back').click();
  await row.getByLabel('Reason').fill('it was the weather');
  await row.getByRole('button', { name: 'Take back' }).click();
  await row.waitFor({ state: 'detached' });
  check('taken back it is on the report no more', !/dip "here"/.test(await words()));
  await notes(page).getByText('1 note taken back').click();
  check('and its reason stays', /it was the weather/.test(await notes(page).innerText()));
  check('the command line tells the same', ask('pull', 'history', String(pull), '--book', book).notes.some((n) => n.taken_back === 'it was the weather'));
}

export default async function curveNotes() {
  const { book } = demoDay(), server = await serve(book), page = await open();
  const first = await pinned(page, server);
  await refused(page, server);
  await takenBack(page, server, first, book);
  await page.setViewportSize({ width: 360, height: 640 });
  await notes(page).getByRole('textbox', { name: 'Note' }).scrollIntoViewIfNeeded();
  check('on a phone nothing is cut', await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await picture(page, 'curve-note-phone');
  await page.close();
  await stopInOrder(server);
}
