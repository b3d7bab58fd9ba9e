/* What has to be seen and heard on every screen: alarms that stand, a connection that is lost while something records, figures
 * that stopped coming. The list is the server's word; this device adds what only it can know.
 *
 *   in force --its session ends--> stood at the end --a person clears it--> gone
 *   in force --another server answers that knows nothing of it--> carried --a person has noted it--> gone
 *
 * Carried alarms and the list last heard outlive a reload. */
import { computed, signal } from '@preact/signals';
import { connected, lostFor } from './state';
import { t, inWords } from './words';

import type { Standing } from './api_types';
export type { Standing };
export type Level = 0 | 1 | 2 | 3; /* 0: seen, not heard */
export interface Entry { key: string; level: Level; action: string; name: string; text: string; at: string | null; clears?: string; notes?: string }

const PLACE = 'alarms';
interface Stored { server: string; standing: Standing[]; carried: Standing[] }
function stored(): Stored {
  const none = { server: '', standing: [], carried: [] };
  try { return { ...none, ...(JSON.parse(localStorage.getItem(PLACE) ?? '{}') as Partial<Stored>) }; } catch { return none; }
}
let last = stored();
export const standing = signal<Standing[]>([]);
export const carried = signal<Standing[]>(last.carried);

function store() {
  last = { ...last, standing: standing.value, carried: carried.value };
  try { localStorage.setItem(PLACE, JSON.stringify(last)); } catch { /* a browser that keeps nothing: until the page is closed */ }
}
addEventListener('storage', (e) => { if (e.key === PLACE) carried.value = stored().carried; });

const keyOf = (s: Standing) => `${s.name} ${s.at}`;
/* The server's list; `server`: which run of the program says so. */
export function takeStanding(server: string, list: Standing[]) {
  const other = last.server !== '' && last.server !== server;
  if (!other && last.server === server && JSON.stringify(list) === JSON.stringify(standing.value)) return;
  const lost = other ? last.standing.filter((s) => !list.some((n) => n.name === s.name)) : [];
  last = { ...last, server };
  standing.value = list;
  if (lost.length) carried.value = [...carried.value.filter((c) => !lost.some((l) => keyOf(l) === keyOf(c))), ...lost];
  store();
}
export function noted(key: string) {
  carried.value = carried.value.filter((c) => keyOf(c) !== key);
  store();
}

/* Whether the server recorded when it was last heard, and for how long a source has given nothing that had given something. */
export const recorded = signal(false);
export const silentFor = signal<number | null>(null);

const levels: Record<string, Level> = { 'shut down': 3, 'back off': 2, notice: 1 };
export const levelOf = (action: string): Level => levels[action] ?? 2;
const SILENT_S = 2;

function ofStanding(s: Standing, where: 'here' | 'carried'): Entry {
  const after = where === 'carried' ? ' ' + t('This was active when the server stopped, and nobody cleared it: look before going on.') : s.ended ? ' ' + t('It was active when the recording ended and was not cleared.') : '';
  return { key: keyOf(s), level: levelOf(s.action), action: s.action, name: s.name, text: (s.text ?? `${inWords(s.action).toUpperCase()}: ${inWords(s.says ?? s.name)}`) + after, at: s.at, ...(where === 'here' ? { clears: s.name } : { notes: keyOf(s) }) };
}

/* The gravest first; of equals the newest. */
export const entries = computed<Entry[]>(() => {
  const all = [...standing.value.map((s) => ofStanding(s, 'here')), ...carried.value.map((s) => ofStanding(s, 'carried'))];
  if (!connected.value && recorded.value) all.push({ key: 'connection', level: 2, action: 'connection lost', name: 'connection lost', at: lostFor.value,
    text: t('CONNECTION LOST: no figure and no alarm of the cell reaches this device. Look at the cell itself.') + (standing.value.length ? ' ' + t('The alarms above are the last ones received.') : '') });
  else if (connected.value && silentFor.value != null && silentFor.value > SILENT_S) all.push({ key: 'silent', level: 0, action: 'no data', name: 'no data', at: null, text: t('NO DATA from the cell for {time}: nothing is being watched.', { time: `${Math.round(silentFor.value)}\u202fs` }) });
  return all.sort((a, b) => b.level - a.level || (b.at ?? '').localeCompare(a.at ?? ''));
});
