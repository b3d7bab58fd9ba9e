/* What the live screens share: the last frame, the alarms in force, the news, and how things moved. */
import { computed, signal } from '@preact/signals';
import { api, type LiveAlarm, type LiveNews, type LiveState } from './api';
import { complain, connected, listen } from './state';

/* One alarm in a frame: state (0 not in force, 1 in force, 2 beyond, 3 latched), low, high, and what it watches when that is not the reading. */
export type Band = [number, number | null, number | null, number | null];
export interface Frame { running: boolean; time_s: number; since_stored_s: number | null; table: number; in_pull: boolean; disarmed: boolean; bands: Band[]; values: Record<string, number | null> }
export const frame = signal<Frame | null>(null);
export const arrived = signal(0);
export const now = signal(performance.now());
const OLD_MS = 500;
export const old = computed(() => !frame.value?.running || now.value - arrived.value > OLD_MS || !connected.value);
export const inPull = computed(() => !old.value && (frame.value?.in_pull ?? false));
export const state = signal<LiveState | null>(null);
export const news = signal<LiveNews[]>([]);

/* Alarms latch until a person clears them; the last of each name stands here. */
export const standing = signal<Map<string, LiveNews>>(new Map());
function noteAlarm(one: LiveNews) {
  if (one.news.event === 'started') { standing.value = new Map(); return; }
  if (one.news.event !== 'alarm') return;
  const name = one.news['name'];
  if (one.news['action'] === 'clear' && one.news['standing'] === 0) standing.value = new Map();
  else if (typeof name === 'string') standing.value = new Map(standing.value).set(name, one);
}

/* The last minute of speed and torque: a ring that does not grow. */
export const RING = 1200;
export const ring = { speed: new Float32Array(RING).fill(NaN), torque: new Float32Array(RING).fill(NaN), at: 0 };
export const drawers = new Set<() => void>();

/* The last three seconds of every value, for rising and falling: rings of a fixed length. */
const MOVES = 60;
const moves = new Map<string, { values: Float32Array; at: number }>();
function noteMove(key: string, value: number | null) {
  let m = moves.get(key);
  if (!m) moves.set(key, m = { values: new Float32Array(MOVES).fill(NaN), at: 0 });
  m.values[m.at] = value ?? NaN;
  m.at = (m.at + 1) % MOVES;
}
/** By how much a value rose over the last three seconds: mean of the last second less that of the first; NaN when not known. */
export function moved(key: string): number {
  const m = moves.get(key);
  if (!m) return NaN;
  const mean = (from: number) => { let sum = 0; for (let i = 0; i < MOVES / 3; i++) sum += m.values[(m.at + from + i) % MOVES]!; return sum / (MOVES / 3); };
  return mean(MOVES * 2 / 3) - mean(0);
}

export async function refresh() {
  try { state.value = await api.live(); news.value = state.value.news; standing.value = new Map(); news.value.forEach(noteAlarm); } catch (problem) { complain(problem); }
}

listen('live', (data) => {
  const next = JSON.parse(data) as Frame;
  frame.value = next;
  arrived.value = now.value = performance.now();
  ring.at = (ring.at + 1) % RING;
  ring.speed[ring.at] = next.values['speed'] ?? NaN;
  ring.torque[ring.at] = next.values['torque'] ?? NaN;
  for (const key in next.values) noteMove(key, next.values[key] ?? null);
  drawers.forEach((draw) => draw());
  const known = state.value;
  if (known && !asking && (known.running !== next.running || known.table !== next.table)) { asking = true; void refresh().finally(() => { asking = false; }); }
});
let asking = false;
listen('news', (data) => {
  const one = JSON.parse(data) as LiveNews;
  news.value = [...news.value.slice(-39), one];
  noteAlarm(one);
  if (one.news.event === 'end' || one.news.event === 'failed' || one.news.event === 'started') void refresh();
});
setInterval(() => { now.value = performance.now(); }, 250);

export function value(key: string): number | null { return old.value ? null : frame.value?.values[key] ?? null; }

/** The alarms of a channel with their limits now; null while page and server speak of different tables. */
export function bandsOf(channel: string, index: number): { alarm: LiveAlarm; band: Band }[] | null {
  const known = state.value, next = frame.value;
  if (!known || !next || known.table !== next.table || known.alarms.length !== next.bands.length) return null;
  return known.alarms.map((alarm, i) => ({ alarm, band: next.bands[i]! }))
    .filter(({ alarm }) => alarm.channel === channel && (alarm.index < 0 || index < 0 || alarm.index === index));
}
