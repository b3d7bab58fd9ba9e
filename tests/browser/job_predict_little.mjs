// Predict an engine of which next to nothing is told: its band, what to measure next, a ratio as the trade writes it.
// Outside source: WCAG 2.2 A and AA as axe-core checks them.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { axe, check, folder, open, picture, run, serve, stopInOrder } from './harness.mjs';

const LITTLE = `name: seven figures
cylinders: 4
bore: 86 mm
stroke: 86 mm
fuel: petrol
octane: 98
head: two valves, wedge
geometry:
  rod_length: 138 mm
  firing_order: [1, 3, 4, 2]
compression:
  ratio: 10.2:1
inlet:
  duration: 224 deg
  duration_lift: 1 mm
exhaust:
  duration: 220 deg
  duration_lift: 1 mm
breathing:
  primary_length: 550 mm
  primary_diameter: 38 mm
`;

/* Bore, stroke, rod, ratio, kind of head, the cam at 1 mm and the primaries are told, and nothing else: a band as wide as that, and what to measure next. */
export default async function little() {
  const path = join(folder, 'little.yaml'), book = join(folder, 'little.book');
  writeFileSync(path, LITTLE);
  run('engine', 'add', path, '--book', book);
  const server = await serve(book), page = await open(), curves = [];
  page.on('response', async (r) => {
    try { if (/\/predict\/\d+$/.test(r.url())) { const j = await r.json(); if (j.state === 'done' && j.kind === 'predict') curves.push(j.answer); } } catch { /* let go with its page */ }
  });
  await page.goto(`${server.address}#/predict`);
  await page.locator('.stage-fine').waitFor({ timeout: 180000 });
  const curve = curves.at(-1), share = curve.torque_standard_uncertainty_n_m.map((u, i) => 2 * u / curve.torque_n_m[i]);
  check('the band says how little was told', Math.min(...share) > 0.1 && Math.max(...share) < 0.5, share);
  const said = await page.locator('.predict-says').innerText(), next = said.match(/what narrows the band most: (.*)/)?.[1] ?? '';
  check('three measurements are named, the most first', curve.would_narrow.length === 3 && (next.match(/ \(by \d+\s?%\)/g) ?? []).length === 3 && next.startsWith(curve.would_narrow[0].field.replaceAll('_', ' ').replace('.', ': ')), [said, curve.would_narrow]);
  check('a ratio of compression may be written 10.2:1', Math.abs(curve.compression_ratio - 10.2) < 1e-9, curve.compression_ratio);
  await axe(page, 'predict with little told');
  await picture(page, 'predict-little');
  await page.locator('.predict-says').scrollIntoViewIfNeeded();
  await picture(page, 'predict-little-says');
  await page.context().close();
  await stopInOrder(server);
}
