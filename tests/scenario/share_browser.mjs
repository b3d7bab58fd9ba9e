// A customer's browser for share_browser.py: one command a line on standard input, one JSON answer a line.
// node share_browser.mjs PORT FOLDER
import { createRequire } from 'node:module';
import { createInterface } from 'node:readline';
const require = createRequire(new URL('../browser/harness.mjs', import.meta.url));
const { chromium } = require('playwright-core');
const [port, folder] = process.argv.slice(2);
// The shop's own authority is not among those that this browser trusts; that the certificate is good is asked with it in share.py.
const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', '--disable-dev-shm-usage', `--host-resolver-rules=MAP shop.example 127.0.0.1:${port}`] });
const context = await browser.newContext({ ignoreHTTPSErrors: true, viewport: { width: 900, height: 1100 } });
const page = await context.newPage();
let faults = [], asked = [];
page.on('console', message => { if (message.type() === 'error') faults.push(message.text()); });
page.on('pageerror', error => faults.push(String(error)));
page.on('request', request => asked.push(new URL(request.url()).host));
const commands = {
  async open(path) {
    faults = [];
    const answer = await page.goto(`https://shop.example${path}`, { waitUntil: 'load', timeout: 60000 });
    return { status: answer.status(), type: answer.headers()['content-type'], text: (await page.locator('body').innerText()).slice(0, 4000), faults };
  },
  async look() {
    const rows = async id => page.locator(`#${id} tr`).evaluateAll(all => all.map(row => [...row.cells].map(cell => cell.textContent)));
    return { now: await rows('now'), state: await page.locator('#now-state').textContent(), figures: await rows('figures'), line: await page.locator('#state').textContent(), faults };
  },
  async frame() {
    return { images: await page.locator('img').evaluateAll(all => all.map(one => one.complete && one.naturalWidth > 0)) };
  },
  async picture(name) {
    await page.screenshot({ path: `${folder}/${name}.png`, fullPage: true });
    return {};
  },
  async hosts() {
    return { hosts: [...new Set(asked)] };
  },
};
console.log(JSON.stringify({ ready: true }));
for await (const line of createInterface({ input: process.stdin })) {
  const [name, ...words] = line.split(' ');
  if (name === 'end') break;
  try {
    console.log(JSON.stringify(await commands[name](...words)));
  } catch (error) {
    console.log(JSON.stringify({ trouble: String(error) }));
  }
}
await browser.close();
process.exit(0);
