// The ways to look at pulls: a sweep, the next limit, channels against time, another method; the command line is the peer.
import { ask, axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

const plain = (text) => text.replaceAll('\u2212', '-').replaceAll('\u202f', ' ').replaceAll('\u2009', ' ');

async function sweep(page, server, book) {
  await page.goto(`${server.address}#/pulls?a=11,12,17,20,25&view=sweep`);
  await page.locator('.verdict-line').waitFor();
  const text = plain(await page.locator('.verdict').innerText());
  const peer = ask('judge', 'sweep', 'spark', '--pulls', '11', '12', '17', '20', '25', '--no-keep', '--book', book);
  check('the best spark is that of the command line', text.includes(`Best spark ${peer.best.toFixed(1)}°`), [text, peer.best]);
  check('and so is the reason', text.includes(peer.reason.text), [text, peer.reason.text]);
  await page.getByText('How each pull moves the best').click();
  await page.getByText('What was assumed').click();
  const behind = plain(await page.locator('.verdict').innerText());
  const moved = peer.pulls.moves_best_by_per_cent.map((m) => (m > 0 ? '+' : '') + m.toFixed(2));
  check('each pull moves the best as on the command line', moved.every((m) => behind.includes(m)), [behind, moved]);
  check('what was lent is told', peer.assumed.length === 4 && behind.includes('assumed of the curve'), behind);
  await axe(page, 'the sweep, opened');
  await page.getByText('How each pull moves the best').click();
  await page.getByText('What was assumed').click();
  await picture(page, 'pulls-sweep-light');
  await axe(page, 'the sweep');
  await page.getByLabel('Pulls', { exact: true }).last().fill('11, 12');
  await page.getByText('at least three different settings').waitFor();
  check('too few settings are told in words', true);
  await page.getByRole('button', { name: 'mixture' }).click();
  await page.locator('.verdict-line').waitFor();
  check('a mixture sweep is proposed from what was moved', plain(await page.locator('.verdict-line').innerText()).startsWith('Best lambda 0.8'));
}

/* The day's questions as they were kept; the command line tells the same. */
async function day(page, server, book) {
  await page.goto(`${server.address}#/day`);
  await page.locator('.asked-today .behind').first().waitFor();
  const card = page.locator('.asked-today'), peer = ask('judge', 'explain', '--book', book);
  for (const summary of await card.locator('summary').all()) await summary.click();
  const text = plain(await card.innerText());
  check('the last answer of the day stands there', ['compare', 'spark sweep', 'mixture sweep', 'step-up'].includes(peer.question) && text.includes('Was it better?') && text.includes('Best spark'), [text.slice(0, 400), peer.question]);
  check('weights of the pulls are behind a click', /What each pull weighs|How each pull moves the best/.test(text), text.slice(0, 600));
  check('what was assumed is told', text.includes('assumed of the curve'), text);
  await axe(page, 'questions of the day, opened');
}

async function limit(page, server, book) {
  await page.goto(`${server.address}#/pulls?a=7&view=limit`);
  await page.getByText('Looked at').waitFor();
  const peer = ask('judge', 'step-up', '7', '--no-keep', '--book', book);
  const text = plain(await page.locator('.work').innerText());
  check('the next limit says what the command line says', text.includes(peer.says.text), [text.slice(0, 300), peer.says.text]);
  check('every check is there', peer.checks.every((c) => text.includes(c.what)), peer.checks.map((c) => c.what));
  await picture(page, 'pulls-limit-light');
  await axe(page, 'the next limit');
}

async function channels(page, server, book) {
  await page.goto(`${server.address}#/pulls?a=12&view=channels`);
  await page.locator('.plot-box canvas').nth(3).waitFor();
  await page.locator('.plot-box').first().focus();
  for (const key of ['End', 'ArrowLeft', 'Enter']) await page.keyboard.press(key);
  await page.locator('.explain h3').waitFor();
  await page.getByText('Shaded: the stretch').waitFor();
  const peer = ask('pull', 'explain', '12', '--speed', '6000 rpm', '--book', book);
  const o = await page.evaluate(() => fetch('/api/v1/pulls/12/explain?speed_rpm=6000').then((r) => r.json()));
  check('a place in time walks the curve back', Math.abs(o.torque_n_m - peer.torque_n_m) < 1e-9, [o.torque_n_m, peer.torque_n_m]);
  await picture(page, 'pulls-channels-light');
  await axe(page, 'channels');
}

async function method(page, server, book) {
  await page.goto(`${server.address}#/pulls?a=17,19&b=18&view=method`);
  await page.getByText('By this method:').waitFor();
  const before = plain(await page.locator('.work').innerText());
  check('the method in force changes nothing', /As stored: (.*)\n+By this method: \1/.test(before), before.slice(0, 900));
  let release;
  const held = new Promise((resolve) => { release = resolve; });
  await page.route('**/method/try', async (route) => { await held; await route.continue(); });
  await page.getByLabel('half width').fill('200 rpm');
  await page.getByText('What is shown below is by the previous method.').waitFor();
  release();
  await page.getByText('What is shown below is by the previous method.').waitFor({ state: 'hidden' });
  await page.unroute('**/method/try');
  check('while it computes, the page says so and whose the old figures are', true);
  await page.getByLabel('standard').selectOption('din70020');
  await page.waitForFunction(() => [...document.querySelectorAll('.list td.num')].some((td) => /[+\u2212]\d+\.\d\d.%/.test(td.textContent ?? '')));
  await picture(page, 'pulls-method-light');
  await axe(page, 'the method');
  check('trying stores nothing', ask('book', 'verify', '--book', book).whole === true);
  await page.getByRole('button', { name: 'Use it for new pulls' }).click();
  await page.getByText('New pulls are computed this way').waitFor();
  const kept = await page.evaluate(() => fetch('/api/v1/method').then((r) => r.json()));
  check('the method is kept', kept.typed.half_width.replaceAll('\u202f', ' ').startsWith('200') && kept.typed.standard === 'din70020', kept.typed);
  await page.getByRole('button', { name: 'Take back' }).click();
  await page.getByText('The method is as it was').waitFor();
  check('and can be taken back', (await page.evaluate(() => fetch('/api/v1/method').then((r) => r.json()))).typed.standard === 'j1349');
  await page.getByLabel('half width').fill('5 psi');
  await page.locator('.said.grave').waitFor();
  check('a wrong unit is told', /half_width/.test(await page.locator('.said.grave').first().innerText()));
}

export default async function pullsViews() {
  const book = demoDay().book;
  const server = await serve(book);
  const page = await open();
  await sweep(page, server, book);
  await day(page, server, book);
  await limit(page, server, book);
  await channels(page, server, book);
  await method(page, server, book);
  for (const [scheme, width] of [['dark', 1440], ['light', 390]]) {
    const other = await open({ colorScheme: scheme, viewport: { width, height: 900 } });
    for (const view of ['sweep', 'limit', 'channels', 'method']) {
      await other.goto(`${server.address}#/pulls?a=12,17&b=20&view=${view}`);
      await other.locator('.work .verdict, .work .plot, .work form').first().waitFor();
      await other.waitForTimeout(300);
      await axe(other, `${view}, ${scheme}, ${width} px`);
      const wide = await other.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      check(`${view} fits ${width} px`, wide <= 0, wide);
      if (width === 1440) await picture(other, `pulls-${view}-${scheme}`);
    }
    await other.context().close();
  }
  await page.close();
  await stopInOrder(server);
}
