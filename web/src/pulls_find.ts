/* Finding pulls by words. Commas put wishes together, and a pull has to meet all of them. A wish is a setting with its figure
 * ("spark 30"), or words that all stand somewhere in what is known of the pull: its number, day, purpose, what changed, whether and why
 * it was discarded, what tripped in it, any setting. */
import { counts, type Pull } from './api';
import { signal } from '@preact/signals';
import { t } from './words';

/* Each is found by what the field promises with it: a setting, a word, part of a date. */
export const examples = () => t('spark 30, discarded');

export const termsOf = (text: string) => text.split(',').map((t) => t.trim().toLowerCase()).filter(Boolean);
const spelled = (name: string) => name.replaceAll('_', ' ').toLowerCase();

const spelledOut = new WeakMap<Pull, string>();
function everything(p: Pull): string {
  const known = spelledOut.get(p);
  if (known != null) return known;
  const settings = Object.entries(p.setup).map(([name, value]) => `${spelled(name)} ${value}`);
  const all = [p.id, t('pull {pull}', { pull: p.id }), p.kind, p.purpose, p.day, p.at.slice(11, 16), p.changed, counts(p) ? t('counts') : '', p.discarded == null ? '' : `${t('discarded')} ${p.discarded}`, p.tripped == null ? '' : `${t('tripped')} ${p.tripped}`, `${t('run')} ${p.run}`, ...settings, ...p.setup_changes.map((c) => c.text)].join(' \n ').toLowerCase();
  spelledOut.set(p, all);
  return all;
}
/* "spark 30" is no spark of 28 in a pull that has a 30 elsewhere; nor is it 305, while it is 30 deg and 30.5 deg. */
function bySetting(p: Pull, term: string): boolean | null {
  for (const [name, value] of Object.entries(p.setup)) {
    const own = spelled(name);
    if (term.startsWith(own + ' ')) return new RegExp(`^${term.slice(own.length + 1).trim().replace(/[.*+?^${}()|[\]\\]/g, '\\$&')}(?!\\d)`).test(value.toLowerCase());
  }
  return null;
}
export function matcher(text: string): (p: Pull) => boolean {
  const terms = termsOf(text);
  return (p) => {
    const all = terms.length ? everything(p) : '';
    return terms.every((term) => bySetting(p, term) ?? term.split(/\s+/).every((word) => all.includes(word)));
  };
}

/* What narrows and orders the list besides words. It stays while the page is open, and the address says it (pulls_filter.tsx). */
export const STATES = ['all', 'counts', 'held', 'discarded', 'tripped', 'amended', 'other'] as const;
export const ORDERS = ['newest', 'oldest', 'torque', 'speed'] as const;
export interface Narrow { text: string; state: (typeof STATES)[number]; engine: number; from: string; to: string; order: (typeof ORDERS)[number] }
export const NOTHING: Narrow = { text: '', state: 'all', engine: 0, from: '', to: '', order: 'newest' };
const IN_ADDRESS: [keyof Narrow, string][] = [['text', 'find'], ['state', 'state'], ['engine', 'of'], ['from', 'from'], ['to', 'to'], ['order', 'order']];
export const narrow = signal<Narrow>(NOTHING);
const isDay = (text: string) => /^\d{4}-\d\d-\d\d$/.test(text);
/** As an address says it; null: it says nothing of it. What it says wrongly is as if it were not said. */
export function narrowOf(q: URLSearchParams): Narrow | null {
  if (!IN_ADDRESS.some(([, name]) => q.has(name))) return null;
  const of = (key: keyof Narrow) => q.get(IN_ADDRESS.find(([of]) => of === key)![1]) ?? '', one = <T extends string>(all: readonly T[], text: string, or: T) => all.includes(text as T) ? text as T : or;
  return { text: of('text'), state: one(STATES, of('state'), 'all'), engine: Math.max(0, Math.trunc(Number(of('engine'))) || 0), from: isDay(of('from')) ? of('from') : '', to: isDay(of('to')) ? of('to') : '', order: one(ORDERS, of('order'), 'newest') };
}
export function toAddress(n: Narrow): Record<string, string | null> {
  return Object.fromEntries(IN_ADDRESS.map(([key, name]) => [name, n[key] === NOTHING[key] ? null : String(n[key])]));
}
export const narrows = (n: Narrow) => n.state !== 'all' || n.engine > 0 || n.from !== '' || n.to !== '';

const inState: Record<Narrow['state'], (p: Pull) => boolean> = {
  all: () => true, counts, held: (p) => p.held != null, discarded: (p) => p.discarded != null, tripped: (p) => p.tripped != null,
  amended: (p) => p.reading > 1, other: (p) => p.purpose !== 'pull',
};
/* A pull without the figure stands last, whichever way. */
const most = (of: (p: Pull) => number | null) => (p: Pull, q: Pull) => (of(q) ?? -Infinity) - (of(p) ?? -Infinity) || q.id - p.id;

/** `pulls` stand in the order of the book. */
export function narrowed(pulls: Pull[], n: Narrow): Pull[] {
  const words = matcher(n.text), found = pulls.filter((p) => inState[n.state](p) && (n.engine === 0 || p.engine_id === n.engine) && (!n.from || p.day >= n.from) && (!n.to || p.day <= n.to) && words(p));
  if (n.order === 'oldest') return found;
  if (n.order === 'torque') return found.sort(most((p) => p.band_mean_torque_n_m));
  if (n.order === 'speed') return found.sort(most((p) => p.top_speed_rpm));
  return found.reverse();
}
