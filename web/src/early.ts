/* The first that runs, before the other scripts and the style are asked for: it asks for what the first screen shows, and begins the page once something
 * has been painted (one line, in the style that index.html has for it). Each answer is taken once, by whoever asks for that path, and only at the beginning (api.ts); nobody has to take one.
 * The events are listened to before the first answer is asked for. What a browser keeps (units, language) is read after the first paint: reading it may wait for the disk.
 *
 *   address --asks--> book on its way --first paint--> words, list, curves on their way --> app.js, which takes them
 *                                                        list of Pulls there, in English --> drawn to be read (early_list.ts) --> app.js
 */
import type { Book, Pulls } from './api_types';
import { listOf, suits } from './early_list';

export interface EarlyAnswer { ok: boolean; text: string }
/** `stream`: of the events, so that no change is missed between an answer and the page; `changed`: one came; `greeted`: the server said
 * hello. */
export interface Early { until_ms: number; stream?: EventSource; changed: boolean; greeted: boolean; answers: Record<string, Promise<EarlyAnswer> | undefined> }
declare global { interface Window { early?: Early } }

const NEWEST = 100; /* as in pulls_known.ts */
const FRESH_MS = 4000, UNPAINTED_MS = 500, LIST_MS = 150;
const early: Early = window.early = { until_ms: performance.now() + FRESH_MS, changed: false, greeted: false, answers: {} };

/* None of its own: the book's, which the server knows. */
function ownUnits(): string {
  try { const own = localStorage.getItem('units'); return own === 'si' || own === 'us' ? own : ''; } catch { return ''; }
}
function ask(path: string, units = '') {
  const whole = units ? `${path}${path.includes('?') ? '&' : '?'}units=${units}` : path;
  const answer = fetch('/api/v1/' + whole, { cache: 'no-store' }).then(async (r) => ({ ok: r.ok, text: await r.text() }));
  answer.catch(() => undefined); /* asked again, and said, by the page */
  early.answers[path] = answer;
}

const [screen = '', query = ''] = location.hash.replace(/^#\/?/, '').split('?'), chosen = new URLSearchParams(query);
const open = screen === 'open'; /* with a key nothing is answered before the key */
const idsOf = (side: string) => (chosen.get(side) ?? '').split(',').map(Number).filter((n) => n > 0);
function askPulls(units: string) {
  const ids = [...idsOf('a'), ...idsOf('b')], samples = chosen.get('samples');
  ask(`pulls?newest=${NEWEST}`, units);
  if (ids.length) ask(`curves?pulls=${ids.join()}${samples === '1' || (samples !== '0' && ids.length === 1) ? '' : '&raw=no'}`, units);
}
const language = document.cookie.split('; ').find((one) => one.startsWith('ew_language='))?.slice(12) ?? navigator.languages?.[0] ?? navigator.language ?? 'en', english = language.startsWith('en');
function askTheRest() {
  if (!english) ask('words');
  if (screen === 'pulls') askPulls(ownUnits());
  else if (screen === '' || screen === 'day') ask('day', ownUnits());
}
function link(rel: string, file: string): Promise<void> {
  const made = document.createElement('link');
  made.rel = rel;
  made.href = file;
  const there = new Promise<void>((done) => { made.onload = made.onerror = () => { done(); }; });
  document.head.append(made);
  return there;
}

/* True when it stands there: in the place of the one line of index.html, not of the page's own elements, whose script begins when the list takes too long. What fails here is
 * asked for again, and said, by the page. */
async function drawList(styled: Promise<void>): Promise<boolean> {
  const [books, pulls] = await Promise.all([early.answers['book'], early.answers[`pulls?newest=${NEWEST}`], styled]);
  const place = document.getElementById('page')!;
  if (!books?.ok || !pulls?.ok || !place.querySelector(':scope > p')) return false;
  const book = JSON.parse(books.text) as Book, list = JSON.parse(pulls.text) as Pulls, units = ownUnits() || (book.settings['units'] === 'us' ? 'us' : 'si');
  if (list.pulls.length > 0) place.replaceChildren(...listOf(list, book, units === 'us' ? 'us' : 'si', [idsOf('a'), idsOf('b')]));
  return list.pulls.length > 0;
}

let begun = false;
function begin() {
  if (begun) return;
  begun = true;
  if (!open) askTheRest();
  const app = '/app.js', styled = link('stylesheet', '/app.css'), beginApp = () => { void styled.then(() => import(app)); }; /* a module is run once */
  for (const file of ['/shared.js', app]) void link('modulepreload', file);
  if (screen !== 'pulls' || !english || document.hidden || !suits(chosen)) { beginApp(); return; }
  const late = setTimeout(beginApp, LIST_MS);
  drawList(styled).catch(() => false).then((drawn) => { if (drawn) requestAnimationFrame(() => { setTimeout(beginApp); }); else beginApp(); clearTimeout(late); });
}
if (!open) {
  const stream = early.stream = new EventSource('/api/v1/events');
  stream.addEventListener('changed', () => { early.changed = true; });
  stream.addEventListener('hello', () => { early.greeted = true; });
  stream.onerror = () => { stream.close(); delete early.stream; }; /* the page opens its own, and sees at once that it fails */
  ask('book');
}
if (!open && !['', 'day', 'pulls', 'live', 'window'].includes(screen)) void link('modulepreload', '/more.js');
if (document.hidden) begin(); /* nothing is painted there */
else {
  requestAnimationFrame(() => { setTimeout(begin); });
  setTimeout(begin, UNPAINTED_MS);
}
