// Drives the page in Debian's Chromium: whole jobs as a person does them, one file a job (job_*.mjs).
// page.mjs PROGRAM [--pictures FOLDER] [--job NAME]...
import { readdirSync } from 'node:fs';
import { check, count, end, problems } from './harness.mjs';

const wanted = process.argv.flatMap((word, i) => process.argv[i - 1] === '--job' ? [word] : []);
const jobs = readdirSync(new URL('.', import.meta.url)).filter((name) => /^job_.*\.mjs$/.test(name)).sort()
  .filter((name) => wanted.length === 0 || wanted.includes(name.slice(4, -4)));
if (jobs.length === 0) { console.log(`FAILED: no job is called ${wanted.join(', ')}`); process.exit(2); }
for (const name of jobs) {
  try {
    await (await import('./' + name)).default();
  } catch (problem) {
    count.failed++;
    console.log(`FAILED: ${name}: ${problem.message}`);
  }
}
check('the browser had nothing to complain of', problems.length === 0, problems.slice(0, 5));
await end();
console.log(`[  PASSED  ] ${count.passed} test(s).`);
if (count.failed) console.log(`[  FAILED  ] ${count.failed} test(s).`);
process.exit(count.failed ? 1 : 0);
