// Predict: a slider turned by keyboard, the curve that follows, the same answer as the command line, fit, variants, copy.
// Outside source: WCAG 2.2 A and AA as axe-core checks them. The curve is checked against `engine predict --json`, the
// same model asked another way: it tests the way of a figure to the screen, not the physics.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { ask, axe, check, folder, open, picture, serve, stopInOrder } from './harness.mjs';

const settled = (page) => page.locator('.stage-fine').waitFor({ timeout: 180000 });
/** The typed engine as YAML: every figure as it was typed, as the program's own form keeps it. */
const yaml = (typed, indent = '') => Object.entries(typed).map(([key, value]) => Array.isArray(value) ? `${indent}${key}: [${value.map((v) => JSON.stringify(v)).join(', ')}]`
  : typeof value === 'object' ? `${indent}${key}:\n${yaml(value, indent + '  ')}` : `${indent}${key}: ${JSON.stringify(value)}`).join('\n');

async function follows(page) {
  /* what the page asks and is answered, as it goes by */
  const seen = { curves: [], sliders: null };
  page.on('response', async (r) => {
    try {
      if (r.url().includes('/predict/sliders')) seen.sliders = await r.json();
      else if (/\/predict\/\d+$/.test(r.url())) { const j = await r.json(); if (j.state === 'done' && j.kind === 'predict') seen.curves.push(j.answer); }
    } catch { /* a reply that was let go with its page */ }
  });
  return seen;
}

async function bySlider(page, server) {
  const seen = await follows(page);
  await page.goto(`${server.address}#/predict`);
  await settled(page);
  check('the first curve is the base', (await page.locator('.predict-gain').innerText()).includes('base'));
  await page.locator('#turn-breathing-primary_length').focus();
  const began = Date.now(), before = seen.curves.length;
  await page.keyboard.press('ArrowLeft');
  while (seen.curves.length === before && Date.now() - began < 20000) await page.waitForTimeout(5);
  console.log(`a key on a slider to the coarse curve: ${Date.now() - began} ms; its ${seen.curves.at(-1)?.speed_rpm.length} speeds ran ${Math.round(1000 * seen.curves.at(-1)?.wall_s)} ms`);
  for (let i = 0; i < 9; i++) await page.keyboard.press('ArrowLeft');
  await page.locator('.stage-coarse').waitFor();
  await settled(page);
  const fine = seen.curves.at(-1);
  const said = await page.locator('.predict-gain').innerText();
  check('the difference is told in words, with what it can be wrong by', /^[+−]\d.* from [\d,]+ to [\d,]+ rpm, (inside|more than) what the prediction can be wrong by$/.test(said.replaceAll('\u202f', ' ')), said);
  check('its band is shown', fine.torque_standard_uncertainty_n_m.every((u, i) => u > 0.01 * fine.torque_n_m[i]), fine.torque_standard_uncertainty_n_m);
  check('the base stands beside it', fine.against.torque_n_m.length === fine.torque_n_m.length);
  return { seen, fine };
}

async function asCommandLine(page, server, { fine }) {
  const typed = await page.evaluate(async () => {
    const get = (path, body) => fetch('/api/v1/' + path, body ? { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) } : {}).then((r) => r.json());
    const book = await get('book'), engine = await get('engines/' + book.engine_id);
    return (await get('predict/sliders', { typed: engine.typed, turns: [{ group: 'breathing', name: 'primary_length', to: 0.4 }] })).typed;
  });
  check('a slider turns the field that it names', typed.breathing.primary_length === '400 mm', typed.breathing);
  const path = join(folder, 'turned.yaml');
  writeFileSync(path, yaml(typed) + '\n');
  const told = ask('engine', 'predict', path, '--cell', '40 mm', '--speeds', '2000:7000:250');
  for (const key of ['speed_rpm', 'torque_n_m', 'power_w', 'volumetric_efficiency', 'bsfc_kg_j', 'octane_needed', 'spark_deg'])
    check(`${key} is that of engine predict, bit for bit`, JSON.stringify(told[key]) === JSON.stringify(fine[key]), [told[key], fine[key]]);
}

async function typedAndUndone(page) {
  const box = page.locator('#turn-breathing-runner_length-text');
  await box.fill('13 in');
  await box.press('Enter');
  await page.getByRole('button', { name: /^runner length back to/ }).waitFor();
  check('any unit may be typed', (await box.inputValue()).startsWith('330'), await box.inputValue());
  await box.fill('5 kg');
  await box.press('Enter');
  await page.locator('.predict .problem').first().waitFor();
  check('a wrong unit is refused by name', (await page.locator('.predict .problem').first().innerText()).includes('runner_length'));
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.locator('.predict .problem').waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Undo' }).click();
  check('an edit is undone', (await page.getByRole('button', { name: /^runner length back to/ }).count()) === 0);
}

/* One cylinder over one cycle: asked for when it is opened, with the curve's own figures, drawn in each way, and again at another speed. */
async function inside(page, seen) {
  const answers = [];
  page.on('response', async (r) => {
    try { if (/\/predict\/\d+$/.test(r.url())) { const j = await r.json(); if (j.state === 'done' && j.kind === 'inside') answers.push(j.answer); } } catch { /* let go with its page */ }
  });
  const card = page.locator('details.inside'), drawn = () => card.locator('.plot-box').getAttribute('data-lines');
  check('nothing of it is asked for while it is shut', answers.length === 0 && (await card.locator('.plot').count()) === 0);
  await card.locator('summary').click();
  await card.locator('.plot').waitFor({ timeout: 60000 });
  const one = answers.at(-1), fine = seen.curves.at(-1), at = fine.power_w.indexOf(Math.max(...fine.power_w));
  check('it is of the speed of highest power', one.speed_rpm === fine.speed_rpm[at], one.speed_rpm);
  check('its figures are the curve\'s at that speed, bit for bit', one.peak_pressure_pa === fine.peak_pressure_pa[at] && one.spark_deg === fine.spark_deg[at] && one.ca50_deg === fine.ca50_deg[at], [one.peak_pressure_pa, fine.peak_pressure_pa[at]]);
  check('the drawn pressure has that peak', Math.abs(Math.max(...one.cylinder_pa) / one.peak_pressure_pa - 1) < 0.01, Math.max(...one.cylinder_pa));
  const half = one.angle_deg[one.burned_fraction.findIndex((b) => b >= 0.5)];
  check('half is burned where the figure says so', Math.abs(half - one.ca50_deg) <= 1.5, [half, one.ca50_deg]);
  /* the area of the loop is the net mean effective pressure times what is swept (the definition; Heywood 1988, 2.4) */
  let work = 0;
  one.cylinder_pa.forEach((p, i) => { const next = (i + 1) % 720; work += 0.5 * (p + one.cylinder_pa[next]) * (one.volume_m3[next] - one.volume_m3[i]); });
  const swept = Math.max(...one.volume_m3) - Math.min(...one.volume_m3);
  check('the loop encloses the work that is told', Math.abs(work / swept / one.imep_pa - 1) < 0.03, [work / swept, one.imep_pa]);
  check('exhaust opens before inlet, and both overlap', one.opens_deg[1] < one.opens_deg[0] && one.closes_deg[1] > one.opens_deg[0], [one.opens_deg, one.closes_deg]);
  check('ports and pipes are four lines', (await drawn()).split(',').length === 4, await drawn());
  await picture(page, 'inside-ports');
  const show = card.locator('select').nth(1);
  const captions = new Set([await card.locator('figcaption').innerText()]);
  for (const view of ['cylinder', 'loop', 'exchange', 'burned']) {
    await show.selectOption(view);
    await page.waitForTimeout(100);
    const caption = await card.locator('figcaption').innerText();
    check(`${view}: one drawing, under a heading of its own`, (await card.locator('.plot-box canvas').count()) === 1 && !captions.has(caption), caption);
    captions.add(caption);
    if (view !== 'cylinder') await picture(page, `inside-${view}`);
  }
  const before = answers.length;
  await card.locator('select').first().selectOption('4000');
  while (answers.length === before) await page.waitForTimeout(20);
  await card.getByText(/^Cylinder 1 at 4,000 rpm/).waitFor();
  check('another speed is another cycle', answers.at(-1).speed_rpm === 4000);
  await show.selectOption('ports');
  await card.locator('summary').click();
}

/* Which ratio, by the page as by the command line. */
async function ratio(page) {
  const card = page.getByRole('region', { name: 'Which ratio' });
  await card.getByRole('button', { name: 'What do fuel and cam want?' }).click();
  await card.locator('.plot').waitFor({ timeout: 300000 });
  const said = await card.innerText(), told = ask('engine', 'predict', join(folder, 'turned.yaml'), '--cell', '40 mm', '--speeds', '2000:7000:500', '--compression').compression;
  check('it says what fuel and cam want', said.includes(`${told.cam_wants[0].toFixed(1)} to ${told.cam_wants[1].toFixed(1)} on petrol`) && said.includes(`${told.fuel_stands[0].toFixed(1)} easily`), [said, told]);
  check('and what it is worth, with what it can be wrong by', said.replaceAll('−', '-').includes(`${told.gain_above_n_m.toFixed(1)} ± ${(2 * told.gain_above_standard_uncertainty_n_m).toFixed(1)}`), said);
  await card.scrollIntoViewIfNeeded();
  await picture(page, 'predict-ratio');
}

async function variants(page) {
  const card = page.getByRole('region', { name: 'Variants' });
  await card.getByRole('button', { name: 'Add a row' }).click();
  const last = card.locator('.variant-row').last();
  await last.getByLabel('Change').selectOption('octane');
  await last.getByLabel('By or to').fill('+3');
  await card.getByRole('button', { name: 'Run the table' }).click();
  await card.locator('table.variants tbody tr').first().waitFor({ timeout: 180000 });
  check('every change has its row', (await card.locator('table.variants tbody tr').count()) === 7);
  check('a row tells its uncertainty', /[+−][\d.]+ ± [\d.]+/.test(await card.locator('table.variants tbody td').first().innerText()));
  await card.getByRole('button', { name: 'octane needed' }).click();
  check('the table sorts', (await card.locator('th[aria-sort=ascending]').count()) === 1);
  await card.getByRole('button', { name: 'Take as the new base' }).first().click();
  await page.getByRole('button', { name: /^take off/ }).waitFor();
  await settled(page);
  check('a variant becomes the base', true);
  await page.getByRole('button', { name: /^take off/ }).click();
}

async function fitted(page, server, book) {
  await page.goto(`${server.address}#/predict?pulls=34,35`);
  await settled(page);
  await page.evaluate(() => scrollTo(0, 0));
  await page.waitForTimeout(300);
  await picture(page, 'predict-light');
  const card = page.getByRole('region', { name: 'Fit' });
  await card.getByLabel('heat').uncheck();
  await card.getByRole('button', { name: 'Fit', exact: true }).click();
  await card.locator('.fit-says').waitFor({ timeout: 300000 });
  check('what is left over is judged', /Left over: [\d.]+/.test(await card.locator('.fit-says').innerText()));
  await card.getByRole('button', { name: 'Keep with this engine' }).click();
  await card.getByText('This fit is kept in the book.').waitFor();
  await settled(page);
  const kept = ask('engine', 'predict', 'hill-climb six', '--book', book, '--tune', 'kept', '--speeds', '5000:5000:500', '--uncertainty');
  check('the command line predicts with the kept fit', kept.uncertainty_from.id === 'desk.doubt-fitted', kept.uncertainty_from);
  const says = page.locator('.predict-says').filter({ hasText: 'fitted to measured pulls' });
  check('the prediction says that it is fitted', await says.waitFor({ timeout: 120000 }).then(() => true, () => false), await page.locator('.predict-says').innerText());
}

async function copied(page) {
  await page.getByRole('button', { name: 'Copy into the Engine form' }).click();
  const stands = (figure) => page.waitForFunction((wanted) => document.querySelector('#f-breathing-primary_length')?.value === wanted, figure, { timeout: 10000 }).then(() => true, () => false);
  check('the figures stand in the form', await stands('400 mm'));
  await page.getByRole('button', { name: 'Undo' }).click();
  check('and can be taken back', await stands('500 mm'));
}

export default async function predict() {
  const made = ask('demo', '--folder', join(folder, 'predict')); /* its engine is the six that its pulls were made with */
  const server = await serve(made.book);
  const page = await open();
  const found = await bySlider(page, server);
  await asCommandLine(page, server, found);
  await typedAndUndone(page);
  await ratio(page);
  await inside(page, found.seen);
  await variants(page);
  await fitted(page, server, made.book);
  await copied(page);
  await page.context().close();
  for (const [scheme, width] of [['light', 1440], ['dark', 1440], ['light', 390]]) {
    const other = await open({ colorScheme: scheme, viewport: { width, height: 900 } });
    await other.goto(`${server.address}#/predict?pulls=34,35`);
    await settled(other);
    await axe(other, `predict, ${scheme}, ${width} px`);
    const wide = await other.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    check(`predict fits ${width} px`, wide <= 0, wide);
    await picture(other, `predict-${scheme}-${width}`);
    await other.context().close();
  }
  await stopInOrder(server);
}
