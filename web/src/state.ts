/* What the whole page knows: the book, the units, the route, and what was said last. */
import { signal, computed } from '@preact/signals';
import { api, forgetEarly, Refusal, type Book, type Typed } from './api';
import { stamp } from './clock';
import { answered } from './kept';

export type Units = 'si' | 'us';

export const book = signal<Book | null>(null);
export const bookProblem = signal<string | null>(null);
export const unpaired = signal(false);
export const changes = signal(0); /* counts changes of the book, by whomever */
export const connected = signal(true);
/* When the connection was lost, ISO by the server's clock; null while it is there. */
export const lostFor = signal<string | null>(null);
/* A page that nobody sees shows no figure: a tablet that sleeps would wake with one. */
export const hidden = signal(document.hidden);
/* `reading`: nobody did anything, the page only asked; that it is not connected says as much. */
export const said = signal<{ text: string; grave: boolean; reading?: boolean; undo?: () => void } | null>(null);

function storedUnits(): Units | null {
  try { const value = localStorage.getItem('units'); return value === 'us' || value === 'si' ? value : null; } catch { return null; }
}
const ownUnits = signal<Units | null>(storedUnits());
export const units = computed<Units>(() => ownUnits.value ?? (book.value?.settings['units'] === 'us' ? 'us' : 'si'));
export function setUnits(value: Units) {
  forgetEarly();
  ownUnits.value = value;
  try { localStorage.setItem('units', value); } catch { /* a browser that keeps nothing still shows them */ }
}

/* An engine that another screen hands to the Engine form, as an edit that can be undone. */
export const handed = signal<Typed | null>(null);

/* The route: "#/pulls?a=1,2&b=3" */
export interface Route { screen: string; query: URLSearchParams }
function readRoute(): Route {
  const [screen = '', query = ''] = location.hash.replace(/^#\/?/, '').split('?');
  return { screen: screen || 'day', query: new URLSearchParams(query) };
}
export const route = signal<Route>(readRoute());
/* Another screen begins at its top, wherever the last one was scrolled to. What was said goes when somebody goes elsewhere, and stays when the page
 * itself puts another address in the place of this one. */
let replaced = false;
addEventListener('hashchange', () => { const from = route.value.screen, moved = !replaced; replaced = false; route.value = readRoute(); if (route.value.screen !== from) scrollTo(0, 0); if (moved && said.value && !said.value.grave && !said.value.undo) said.value = null; });
/* `instead`: in the place of the address at hand, so that Back leads to where somebody came from, and not here again. */
export function go(screen: string, query: Record<string, string> = {}, instead = false) {
  const text = new URLSearchParams(query).toString().replaceAll('%2C', ','), hash = '#/' + screen + (text ? '?' + text : '');
  if (instead) { replaced = location.hash !== hash; location.replace(hash); } else location.hash = hash;
}

export function say(text: string, undo?: () => void) { said.value = { text, grave: false, ...(undo ? { undo } : {}) }; }
export function complain(problem: unknown) {
  said.value = { text: problem instanceof Error ? problem.message : String(problem), grave: true, reading: problem instanceof Refusal && problem.status === 0 && problem.reading };
}

export async function loadBook() {
  try {
    book.value = await answered('book', api.book);
    bookProblem.value = null;
    unpaired.value = false;
  } catch (problem) {
    unpaired.value = problem instanceof Refusal && problem.status === 401;
    bookProblem.value = problem instanceof Refusal ? problem.message : String(problem);
  }
}

/* The stream of events: what somebody changed on another device shows here at once.
 *
 *   HERE --an error, or nothing heard for LOST_MS--> LOST --the server says hello--> HERE
 *
 * The server says something every second. A cable that was pulled and a server that hangs give no error: silence alone
 * tells. A device that slept finds the silence when it wakes. */
const LOST_MS = 4000, AGAIN_MS = 4000, LOOK_MS = 250;
type Listener = (data: string) => void;
const listeners = new Map<string, Set<Listener>>();
let stream: EventSource | null = null;
export function listen(event: string, listener: Listener): () => void {
  let set = listeners.get(event);
  if (!set) {
    set = new Set();
    listeners.set(event, set);
    stream?.addEventListener(event, dispatch);
  }
  set.add(listener);
  return () => { set.delete(listener); };
}
let heard = { tick: performance.now(), date: Date.now() }, opened = performance.now();
const hear = () => { heard = { tick: performance.now(), date: Date.now() }; };
/* The first of the two stands still while some devices sleep; the second is set by hand. */
export const silentMs = () => Math.max(performance.now() - heard.tick, Date.now() - heard.date);

function dispatch(event: Event) {
  hear();
  listeners.get(event.type)?.forEach((listener) => listener((event as MessageEvent<string>).data));
}
function lose() {
  if (connected.value) lostFor.value = stamp();
  connected.value = false;
}
function greeted() {
  hear();
  if (connected.value) return;
  connected.value = true;
  lostFor.value = null;
  if (said.value?.reading) said.value = null;
  changes.value++;
  void loadBook();
}
/* The stream that was opened before this script was here, once; what it said of changes meanwhile is not lost. */
function begunStream(): EventSource | null {
  const early = window.early, begun = early?.stream;
  if (!early || !begun) return null;
  delete early.stream;
  if (begun.readyState === EventSource.CLOSED) return null;
  hear();
  if (early.changed) { forgetEarly(); changes.value++; void loadBook(); }
  return begun;
}
export function openStream() {
  stream?.close();
  opened = performance.now();
  const begun = begunStream();
  stream = begun ?? new EventSource('/api/v1/events');
  stream.addEventListener('hello', greeted);
  stream.onerror = () => {
    lose();
    if (stream?.readyState === EventSource.CLOSED && !unpaired.value) setTimeout(() => { void loadBook(); openStream(); }, 2000);
  };
  stream.addEventListener('changed', () => { hear(); changes.value++; void loadBook(); });
  listeners.forEach((_set, event) => stream?.addEventListener(event, dispatch));
  if (begun && window.early?.greeted) listeners.get('hello')?.forEach((listener) => { listener('{}'); });
}
function watchSilence() {
  if (!stream || unpaired.value || silentMs() < LOST_MS) return;
  lose();
  if (performance.now() - opened > AGAIN_MS) openStream();
}
setInterval(watchSilence, LOOK_MS);
document.addEventListener('visibilitychange', () => { watchSilence(); hidden.value = document.hidden; });
document.addEventListener('freeze', () => { hidden.value = true; });
document.addEventListener('resume', () => { watchSilence(); hidden.value = document.hidden; });
