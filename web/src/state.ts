/* What the whole page knows: the book, the units, the route, and what was said last. */
import { signal, computed } from '@preact/signals';
import { api, Refusal, type Book, type Typed } from './api';
import { answered } from './kept';

export type Units = 'si' | 'us';

export const book = signal<Book | null>(null);
export const bookProblem = signal<string | null>(null);
export const unpaired = signal(false);
export const changes = signal(0); /* counts changes of the book, by whomever */
export const connected = signal(true);
export const said = signal<{ text: string; grave: boolean; undo?: () => void } | null>(null);

function storedUnits(): Units | null {
  try { const value = localStorage.getItem('units'); return value === 'us' || value === 'si' ? value : null; } catch { return null; }
}
const ownUnits = signal<Units | null>(storedUnits());
export const units = computed<Units>(() => ownUnits.value ?? (book.value?.settings['units'] === 'us' ? 'us' : 'si'));
export function setUnits(value: Units) {
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
addEventListener('hashchange', () => { route.value = readRoute(); if (said.value && !said.value.grave && !said.value.undo) said.value = null; });
export function go(screen: string, query: Record<string, string> = {}) {
  const text = new URLSearchParams(query).toString().replaceAll('%2C', ',');
  location.hash = '#/' + screen + (text ? '?' + text : '');
}

export function say(text: string, undo?: () => void) { said.value = { text, grave: false, ...(undo ? { undo } : {}) }; }
export function complain(problem: unknown) {
  said.value = { text: problem instanceof Error ? problem.message : String(problem), grave: true };
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

/* The stream of events: what somebody changed on another device shows here at once. */
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
function dispatch(event: Event) {
  listeners.get(event.type)?.forEach((listener) => listener((event as MessageEvent<string>).data));
}
export function openStream() {
  stream?.close();
  stream = new EventSource('/api/v1/events');
  stream.onopen = () => {
    if (!connected.value) { connected.value = true; changes.value++; void loadBook(); }
  };
  stream.onerror = () => {
    connected.value = false;
    if (stream?.readyState === EventSource.CLOSED && !unpaired.value) setTimeout(() => { void loadBook(); openStream(); }, 2000);
  };
  stream.addEventListener('changed', () => { changes.value++; void loadBook(); });
  listeners.forEach((_set, event) => stream?.addEventListener(event, dispatch));
}
