/* What the page keeps on the device of the last answers, to be shown with their time when the server is gone. An answer is
 * kept with the identity of its book and shown with no other; a device that is not paired any more keeps none. */
import { computed, signal } from '@preact/signals';
import { isGone, Refusal, type Book } from './api';
import { whenIdle } from './later';

interface Kept<T> { at: string; identity: string; answer: T }
const MARK = 'kept-', BOOK = 'book';
const place = (what: string) => MARK + what;
/* Of which book this page now speaks. */
let identity = '';

/* When each of what is shown was answered; empty: all of it just now, by the server. */
const ages = signal<Record<string, string>>({});
/* The oldest of what is shown, or null. */
export const keptAt = computed(() => Object.values(ages.value).sort()[0] ?? null);
export const isKept = (what: string) => ages.value[what] ?? null;
function age(what: string, at: string | null) {
  const { [what]: _gone, ...others } = ages.value;
  ages.value = at ? { ...others, [what]: at } : others;
}
/* A screen that is left takes the ages of what it showed along. */
export const showsNoMore = (what: string) => { if (ages.value[what]) age(what, null); };

function places(): string[] {
  try { return Object.keys(localStorage).filter((key) => key.startsWith(MARK)); } catch { return []; }
}
/* Counts how often all was forgotten: what was asked for before must not be written after. */
let forgotten = 0;
const KEEP_MS = 1000, turns = new Map<string, number>();
export function forgetAll() {
  forgotten++;
  places().forEach((key) => { localStorage.removeItem(key); });
  ages.value = {};
}
function keep<T>(what: string, answer: T, lean: (answer: T) => T) {
  if (what === BOOK) {
    const now = (answer as unknown as Book).identity;
    const before = kept<Book>(BOOK)?.identity ?? identity;
    if (before && before !== now) forgetAll(); /* another book's answers are of no use here */
    identity = now;
  }
  const since = forgotten, at = new Date().toISOString(), of = identity, turn = (turns.get(what) ?? 0) + 1;
  turns.set(what, turn);
  whenIdle(() => { /* the screen first; of several answers the last */
    if (since !== forgotten || turns.get(what) !== turn) return;
    try { localStorage.setItem(place(what), JSON.stringify({ at, identity: of, answer: lean(answer) })); } catch { try { localStorage.removeItem(place(what)); } catch { /* a browser that keeps nothing */ } }
  }, KEEP_MS);
}
function kept<T>(what: string): Kept<T> | null {
  try {
    const last = JSON.parse(localStorage.getItem(place(what)) ?? 'null') as Kept<T> | null;
    return last && typeof last.identity === 'string' && (what === BOOK || last.identity === identity) ? last : null;
  } catch { return null; }
}
/* The server's answer, kept; without the server the one kept last. A refusal of the server is passed on. `lean`: as much of it as is kept. */
export async function answered<T>(what: string, ask: () => Promise<T>, lean: (answer: T) => T = (all) => all): Promise<T> {
  try {
    const answer = await ask();
    keep(what, answer, lean);
    age(what, null);
    return answer;
  } catch (problem) {
    if (problem instanceof Refusal && problem.status === 401) forgetAll();
    const last = isGone(problem) ? kept<T>(what) : null;
    if (!last) throw problem;
    if (what === BOOK) identity = last.identity;
    age(what, last.at);
    return last.answer;
  }
}

/* A worker needs a secure context: this machine, or TLS. Without it the page has to stay open. */
export const reloadsAlone = isSecureContext && 'serviceWorker' in navigator;
export function registerOffline() {
  if (reloadsAlone) void navigator.serviceWorker.register('/offline.js').catch(() => undefined);
}
