// Notes and photos of a test day from a tablet, also without a connection; then every sheet as it will print, and the files.
// Outside sources: WCAG 2.2 by axe-core; the text of the PDF by poppler's pdftotext, where it is installed.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { ask, axe, check, demoDay, folder, open, picture, run, serve } from './harness.mjs';

const svg = '<svg xmlns="http://www.w3.org/2000/svg" onload="document.title=1"><script>top.ran = 1; document.title = "ran"</script></svg>';

async function notes(book, server, port) {
  const page = await open({ viewport: { width: 390, height: 844 }, hasTouch: true });
  await page.goto(`${server.address}#/day`);
  const note = page.getByRole('textbox', { name: 'Note' });
  const write = async (text) => { await note.fill(text); await note.press('Enter'); };
  await note.waitFor();
  await write('a drip at the rear main seal');
  await page.locator('.notes').getByText('a drip at the rear main seal').waitFor();
  await page.waitForFunction(() => !document.body.innerText.includes('not in the book yet'));
  await server.stop('SIGKILL'); // out of reach of the network
  await write('wiped, and gone');
  await write('smells of fuel at idle');
  await page.getByText('not in the book yet').first().waitFor();
  server = await serve(book, port);
  await page.waitForFunction(() => !document.body.innerText.includes('not in the book yet'), null, { timeout: 30000 });
  await page.reload();
  await note.waitFor();
  const kept = ask('book', 'notes', '--book', book).notes;
  check('notes outlive a lost connection, once each', kept.length === 3 && new Set(kept.map((n) => n.text)).size === 3, kept);
  await page.getByRole('button', { name: 'Take back: wiped, and gone' }).click();
  await page.getByText('The note is taken back').waitFor();
  check('a note taken back is kept', ask('book', 'notes', '--book', book).notes.filter((n) => n.taken_back).length === 1);
  await page.locator('.said').getByRole('button', { name: 'Take back' }).click(); // the undo
  await page.waitForFunction(() => !document.querySelector('.notes li.back'));
  check('and can be put back', ask('book', 'notes', '--book', book).notes.every((n) => !n.taken_back));
  await photos(page, book);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth);
  check('the day fits a phone', wide <= 390, wide);
  await axe(page, 'the test day with notes and photos');
  await picture(page, 'day-notes-phone');
  await page.context().close();
  return server;
}

async function photos(page, book) {
  const card = page.locator('.photos');
  const camera = card.locator('input[capture]');
  check('a photo comes from the camera', await camera.getAttribute('capture') === 'environment');
  await card.getByLabel('What it shows').fill('the engine on the dyno');
  await camera.setInputFiles('docs/pictures/report.png');
  await card.locator('img').waitFor();
  writeFileSync(join(folder, 'evil.svg'), svg);
  await card.locator('input[multiple]').setInputFiles(join(folder, 'evil.svg'));
  await card.getByRole('link', { name: 'evil.svg' }).waitFor();
  check('a vector picture is a file to fetch and no picture', await card.locator('img').count() === 1);
  const list = ask('book', 'attached', '--book', book).attachments;
  check('both belong to the day', list.length === 2 && list.every((a) => a.belongs === 'day' && a.place), list);
  check('the note stands with the photo', list[0].note === 'the engine on the dyno', list[0]);
  const answer = await page.evaluate(async (id) => {
    const r = await fetch('/api/v1/attachments/' + id);
    return [r.headers.get('content-type'), r.headers.get('content-disposition'), r.headers.get('content-security-policy')];
  }, list[1].id);
  check('script in it never runs', answer[0] === 'application/octet-stream' && answer[1].startsWith('attachment') && answer[2].includes('sandbox'), answer);
}

async function sheets(book, server) {
  const page = await open();
  await page.goto(`${server.address}#/handover`);
  await page.locator('.sheets img').first().waitFor();
  const size = await page.locator('.sheets img').first().evaluate((i) => [i.naturalWidth, i.naturalHeight]);
  check('the report is shown as it will print, A4', Math.abs(size[1] / size[0] - 297 / 210) < .01, size);
  check('what is missing is told', await page.getByText('there is no build record').isVisible());
  await axe(page, 'hand over');
  await picture(page, 'handover');
  await page.getByRole('textbox', { name: 'Title' }).fill('Proof of HC6-004');
  await page.getByRole('textbox', { name: 'Title' }).press('Tab');
  await page.locator('.handover summary', { hasText: 'Pulls' }).click();
  for (const id of [34, 33]) await page.locator('.tick', { hasText: new RegExp(`^ ${id} `) }).locator('input').check();
  await page.locator('.handover summary', { hasText: 'Pictures' }).click();
  await page.locator('.tick', { hasText: 'the engine on the dyno' }).locator('input').check();
  const get = async (name) => {
    const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name }).click()]);
    return file.path();
  };
  const html = readFileSync(await get('One file to send'), 'utf8'), pdf = await get('Test report (PDF)');
  check('the file to send holds the choice', html.includes('<h1>Proof of HC6-004</h1>') && html.includes('the engine on the dyno') && html.includes('data:image/png;base64,'));
  check('and no script', !/<script|javascript:| on\w+=/i.test(html));
  check('the PDF is one', readFileSync(pdf).subarray(0, 5).toString() === '%PDF-');
  try {
    const text = execFileSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8' });
    check('with that title and the same result', text.includes('Proof of HC6-004') && text.includes(/Highest power [^<]*/.exec(html)[0]), text.slice(0, 200));
  } catch (problem) { if (problem.code !== 'ENOENT') throw problem; }
  for (const title of ['Day sheet', 'Build sheet', 'Lash sheet', 'Degree-in sheet', 'Care sheet', 'Dispatch list', 'Valve events']) {
    await page.getByRole('navigation', { name: 'Sheets' }).getByRole('link', { name: title }).click();
    await page.locator(`.sheets img[alt^="${title}"]`).first().waitFor();
    await picture(page, 'handover-' + title.toLowerCase().replaceAll(' ', '-'));
  }
  await page.context().close();
}

async function looks(server) {
  for (const [name, options] of [['dark', { colorScheme: 'dark' }], ['phone', { viewport: { width: 390, height: 844 } }], ['narrow', { viewport: { width: 360, height: 740 }, colorScheme: 'dark' }]]) {
    const page = await open(options);
    await page.goto(`${server.address}#/handover`);
    await page.locator('.sheets img').first().waitFor();
    const [wide, view] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
    check(`hand over fits: ${name}`, wide <= view, wide);
    await axe(page, `hand over, ${name}`);
    await picture(page, 'handover-' + name);
    await page.context().close();
  }
}

export default async function handover() {
  const book = demoDay().book;
  let server = await serve(book);
  server = await notes(book, server, server.port);
  await sheets(book, server);
  await looks(server);
  run('build', 'start', '--build', 'a build', '--book', book);
  const page = await open();
  await page.goto(`${server.address}#/build`);
  await page.locator('.photos').waitFor();
  await page.locator('.photos select').selectOption({ index: 1 });
  const place = await page.locator('.photos select').inputValue();
  await page.locator('.photos input[multiple]').setInputFiles('docs/pictures/report.png');
  await page.locator('.photos img').waitFor();
  check('a photo stands at its measurement', ask('book', 'attached', '--of', 'build:' + place, '--book', book).attachments.length === 1, place);
  await picture(page, 'build-photos');
  await page.context().close();
  await server.stop();
}
