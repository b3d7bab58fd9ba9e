// A fact put right on the page: amended, read back in what was corrected, taken back; a figure that cannot be holds the pull with its question
// until somebody says that it is right. Looked at in three widths. Sources: WCAG 2.2 A and AA as axe-core checks them.
import { ask, axe, check, demoDay, open, picture, serve, stopInOrder } from './harness.mjs';

export default async function amended() {
  const { book } = demoDay();
  const server = await serve(book);
  const page = await open();
  const number = 17;
  const history = () => ask('pull', 'history', String(number), '--book', book);

  async function show(width, height) {
    await page.setViewportSize({ width, height });
    await page.goto(`${server.address}#/pulls?a=${number}&b=18`);
    await page.locator('.verdict-line').first().waitFor({ timeout: 60000 });
  }
  const first = (text) => page.locator('summary', { hasText: text }).first();
  async function amend(name, value, reason, kind = 'set') {
    const form = page.locator('details:has(> summary:text("Amend it"))').first();
    if (!(await form.evaluate((d) => d.open))) await form.locator('summary').click();
    await form.getByLabel('What was wrong').selectOption(kind);
    await form.getByLabel('Which').fill(name);
    await form.getByLabel('How it is').fill(value);
    await form.getByLabel('Reason').fill(reason);
    await form.getByRole('button', { name: 'Amend' }).click();
  }

  await show(1440, 900);
  const before = history().reading;
  await amend('spark', '30.5 deg', 'read off the wrong line');
  await first('Amended: reading').waitFor({ timeout: 30000 });
  check('the pull is amended', history().reading === before + 1, history());
  await first('Amended: reading').click();
  await page.getByText('read off the wrong line').first().waitFor({ timeout: 10000 });
  const told = await page.locator('details:has(> summary:text("Amended: reading")) li').first().innerText();
  check('what was corrected is readable: when, who, why, what, and the mean before', /read off the wrong line/.test(told) && /spark/.test(told) && /mean torque before it/.test(told), told);
  for (const [name, width, height] of [['wide', 1440, 900], ['tablet', 820, 1180], ['phone', 400, 800]]) {
    await page.setViewportSize({ width, height });
    await first('Amended: reading').scrollIntoViewIfNeeded();
    check(`${name}: nothing of it is wider than the screen`, await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth + 1));
    await picture(page, `amend-${name}`);
  }
  await axe(page, 'a pull with what was corrected');
  await page.setViewportSize({ width: 1440, height: 900 });
  await page.getByLabel('Take the last back, because').first().fill('the first line was right');
  await page.getByRole('button', { name: 'Take it back' }).first().click();
  await page.waitForFunction((n) => document.body.innerText.includes(`reading ${n}`), before + 2, { timeout: 30000 });
  check('taken back', history().amendments.at(-1).undoes === history().amendments.at(-2).id, history());

  await amend('torque', 'lb-ft', 'the logger was switched', 'units');
  await page.getByText('Held, and used by nothing').first().waitFor({ timeout: 30000 });
  check('torque that no engine gives holds it, with its question', history().held.some((h) => h.answered_at === null), history().held);
  await picture(page, 'amend-held');
  const form = page.locator('details:has(> summary:text("Amend it"))').first();
  await page.getByRole('button', { name: 'Correct it: torque = N·m' }).first().click();
  await page.waitForFunction(() => [...document.querySelectorAll('details')].some((d) => d.open && d.querySelector('summary')?.textContent === 'Amend it'), null, { timeout: 10000 });
  check('a tap on its question fills in the form: which, how it is, and that it answers the question', await form.getByLabel('Which').inputValue() === 'torque' && await form.getByLabel('How it is').inputValue() === 'N·m' &&
    /^answer to: torque is/.test(await form.getByLabel('Reason').inputValue()), await form.getByLabel('How it is').inputValue());
  await picture(page, 'amend-filled');
  await axe(page, 'a form that a question filled in');

  /* the book as a whole: found again there, and led back here */
  await page.goto(`${server.address}#/shop`);
  await page.getByRole('button', { name: 'Look through it' }).click();
  await page.locator('.findings li').first().waitFor({ timeout: 120000 });
  const found = await page.locator('.findings li').allInnerTexts();
  check('what looks wrong in the book has the held pull', found.some((line) => line.includes(`Pull ${number}`) && line.includes('is its unit')), found);
  await page.locator('.findings').scrollIntoViewIfNeeded();
  await picture(page, 'amend-looked-through');
  await axe(page, 'what looks wrong in the book');
  await page.getByRole('button', { name: `Correct pull ${number}` }).first().click();
  await page.getByText('Held, and used by nothing').first().waitFor({ timeout: 60000 });
  check('a button leads to the pull with its form filled in', await page.locator('details:has(> summary:text("Amend it"))').first().getByLabel('How it is').inputValue() === 'N·m');
  await show(1440, 900);
  await page.getByLabel('It is right, because').first().fill('a charged engine');
  await page.getByRole('button', { name: 'Right as it is' }).first().click();
  await page.getByText('Held, and used by nothing').first().waitFor({ state: 'detached', timeout: 30000 });
  check('said to be right, it is used again', history().held.every((h) => h.answered_at !== null), history().held);
  await page.close();
  await stopInOrder(server);
}
