// What is seen of a plot is taken along: figures in the range that is seen (RFC 4180), a picture; a pin tells differences; ? shows the keys.
import { readFileSync } from 'node:fs';
import { axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

/* RFC 4180: quoted cells, doubled quotes, CRLF. */
const rowsOf = (text) => text.trimEnd().split('\r\n').map((line) => [...line.matchAll(/("(?:[^"]|"")*"|[^,]*)(?:,|$)/g)].map((m) => m[1].replace(/^"|"$/g, '').replaceAll('""', '"')).slice(0, line.split(',').length));
async function taken(page, button) {
  const [download] = await Promise.all([page.waitForEvent('download'), page.locator('.plot').first().getByRole('button', { name: button, exact: true }).click()]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

export default async function takeAlong() {
  const server = await serve(demoDay().book);
  const page = await open({ viewport: { width: 1440, height: 900 } });
  await page.goto(`${server.address}#/pulls?a=17&b=18`);
  await page.locator('.plot-box canvas').first().waitFor();
  const csv = await taken(page, 'CSV'), rows = rowsOf(csv.bytes.toString());
  const curves = (await (await page.request.get(`${server.address}api/v1/curves?pulls=17,18&raw=no`)).json()).curves;
  check('the file says what it holds', csv.name === 'torque-17-18.csv', csv.name);
  check('a column a line and its half-width, with units', rows[0].length === 5 && /N·m/.test(rows[0][1]) && /±/.test(rows[0][2]), rows[0]);
  const speeds = new Set(curves.flatMap((c) => c.curve.speed_rpm));
  check('every point that is seen is in it', rows.length - 1 === speeds.size, [rows.length - 1, speeds.size]);
  const worst = Math.max(...rows.slice(1).flatMap((r) => curves.map((c, k) => { const i = c.curve.speed_rpm.indexOf(Number(r[0])); return i < 0 || !r[1 + 2 * k] ? 0 : Math.abs(Number(r[1 + 2 * k]) - c.curve.torque_n_m[i]); })));
  check('and says the figures of the server', worst <= 0.0051, worst);
  const plot = page.locator('.plot-box').first();
  await plot.focus();
  await page.keyboard.press('+');
  await page.keyboard.press('+');
  const fewer = rowsOf((await taken(page, 'CSV')).bytes.toString());
  check('zoomed in, only what is seen', fewer.length > 2 && fewer.length < rows.length, [fewer.length, rows.length]);
  await plot.focus();
  await page.keyboard.press('0');
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('p');
  for (let i = 0; i < 4; i++) await page.keyboard.press('ArrowRight');
  const told = (await page.locator('.readout').first().innerText()).replaceAll('\u2212', '-');
  check('against a pin the differences stand in brackets', /\([+-][\d.]+\)/.test(told) && /pin at/.test(told), told);
  await picture(page, 'take-pin');
  await page.keyboard.press('Escape');
  await page.keyboard.press('ArrowRight');
  check('Escape takes the pin away', !/pin at/.test(await page.locator('.readout').first().innerText()));
  const png = await taken(page, 'PNG');
  check('a picture is a PNG', png.bytes.subarray(1, 4).toString() === 'PNG' && png.bytes.length > 5000, png.bytes.length);
  await page.keyboard.press('?');
  await page.locator('dialog.keys').waitFor();
  await axe(page, 'the map of keys');
  await picture(page, 'keys');
  await page.keyboard.press('Escape');
  check('Escape closes the map', !(await page.locator('dialog.keys').isVisible()));
  await page.locator('input[type=search]').first().focus();
  await page.keyboard.type('?');
  check('typed in a field, ? is a letter', !(await page.locator('dialog.keys').isVisible()) && (await page.locator('input[type=search]').first().inputValue()) === '?');
  await page.close();
  await stopInOrder(server);
}
