/* The first that runs, while the other scripts are still on their way: it asks for what the first screen shows, and begins the page once something
 * has been painted. Each answer is taken once, by whoever asks for that path, and only at the beginning (api.ts); nobody has to take one.
 *
 *   address --asks--> book, words, list, curves on their way --first paint--> app.js, which takes them
 */
export interface Early { units: string | null; until_ms: number; answers: Record<string, Promise<Response> | undefined> }
declare global { interface Window { early?: Early } }

const NEWEST = 100; /* as in pulls_known.ts */
const FRESH_MS = 4000, UNPAINTED_MS = 500;
const stored = (name: string) => { try { return localStorage.getItem(name); } catch { return null; } };
const own = stored('units'), units = own === 'si' || own === 'us' ? own : null; /* none: the book's, which the server knows */
const early: Early = window.early = { units, until_ms: performance.now() + FRESH_MS, answers: {} };

function ask(path: string, inUnits = false) {
  const whole = inUnits && units ? `${path}${path.includes('?') ? '&' : '?'}units=${units}` : path;
  const answer = fetch('/api/v1/' + whole, { cache: 'no-store' });
  answer.catch(() => undefined); /* asked again, and said, by the page */
  early.answers[path] = answer;
}

const [screen = '', query = ''] = location.hash.replace(/^#\/?/, '').split('?'), chosen = new URLSearchParams(query);
function askPulls() {
  const ids = ['a', 'b'].flatMap((side) => (chosen.get(side) ?? '').split(',').map(Number).filter((n) => n > 0)), samples = chosen.get('samples');
  ask(`pulls?newest=${NEWEST}`, true);
  if (ids.length) ask(`curves?pulls=${ids.join()}${samples === '1' || (samples !== '0' && ids.length === 1) ? '' : '&raw=no'}`, true);
}
function preload(file: string) {
  const link = document.createElement('link');
  link.rel = 'modulepreload';
  link.href = file;
  document.head.append(link);
}

if (screen !== 'open') { /* with a key nothing is answered before the key */
  ask('book');
  const language = document.cookie.split('; ').find((one) => one.startsWith('ew_language='))?.slice(12) ?? navigator.languages?.[0] ?? navigator.language ?? 'en';
  if (!language.startsWith('en')) ask('words');
  if (screen === 'pulls') askPulls();
  else if (screen === '' || screen === 'day') ask('day', true);
  else if (screen !== 'live' && screen !== 'window') preload('/more.js');
}

let begun = false;
function begin() {
  if (begun) return;
  begun = true;
  const app = '/app.js';
  void import(app);
}
if (document.hidden) begin(); /* nothing is painted there */
else {
  requestAnimationFrame(() => { setTimeout(begin); });
  setTimeout(begin, UNPAINTED_MS);
}
