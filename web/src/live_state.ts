/* What the live screens share: the last frame, whether its figures may be shown as live, the news, and how things moved. What
 * the server does is asked of the server: at every new connection, and whenever a frame says otherwise than was known. */
import { computed, signal } from '@preact/signals';
import { api, isGone, type LiveAlarm, type LiveNews, type LiveState } from './api';
import { recorded, silentFor, takeStanding, type Standing } from './alarm_list';
import { heardTime } from './clock';
import { complain, connected, hidden, listen } from './state';

/* One alarm in a frame: state (0 not in force, 1 in force, 2 beyond, 3 latched), low, high, and what it watches when that is not the reading. */
export type Band = [number, number | null, number | null, number | null];
export interface Frame { running: boolean; server: string; now: string; standing: Standing[]; time_s: number; since_stored_s: number | null; table: number; in_pull: boolean; disarmed: boolean; bands: Band[];
  fresh: boolean; age_s: number | null; every_s: number | null; values: Record<string, number | null> }
export const frame = signal<Frame | null>(null);
export const arrived = signal(0);
export const now = signal(performance.now());
/* While figures are live the server sends four times a second at least: what is older than three of those has not come through. */
const HEARD_MS = 750;
export const old = computed(() => hidden.value || !connected.value || !frame.value?.running || !frame.value.fresh || now.value - arrived.value > HEARD_MS);
export const inPull = computed(() => !old.value && (frame.value?.in_pull ?? false));
export const state = signal<LiveState | null>(null);
export const news = signal<LiveNews[]>([]);

/* What the server does, by its own last word; 'unknown' from a lost connection until it has answered again. */
const asked = signal(false);
export const session = computed<'unknown' | 'recording' | 'elsewhere' | 'idle'>(() => {
  const s = state.value;
  return !s || !asked.value || !connected.value ? 'unknown' : s.running ? 'recording' : s.elsewhere ? 'elsewhere' : 'idle';
});
connected.subscribe((on) => { if (!on) { asked.value = false; frame.value = null; } });
/** Why no data comes, by the source's own last word in this session; null: it is connected, or has said nothing. */
export const lostWhy = computed<string | null>(() => {
  for (const n of [...news.value].reverse()) {
    if (n.news.event === 'started') return null;
    if (n.news.event === 'source' && (n.news['what'] === 'lost' || n.news['what'] === 'connected')) return n.news['what'] === 'lost' ? n.why : null;
  }
  return null;
});
/** Why the last recording did not begin, or broke off; null: it did neither. */
export const failedWhy = computed<string | null>(() => {
  const last = [...news.value].reverse().find((n) => n.news.event === 'started' || n.news.event === 'failed');
  return last?.news.event === 'failed' ? last.text : null;
});
/** The pull that the recorder kept last in this session, with what it was judged against; null: none yet. */
export const lastKept = computed<{ pull: number; against: number; text: string; low_rpm: number; high_rpm: number; mean_n_m: number } | null>(() => {
  for (const n of [...news.value].reverse()) {
    const { pull, against, low_rpm = NaN, high_rpm = NaN, band_mean_n_m = NaN } = n.news as { pull?: unknown; against?: unknown; low_rpm?: number; high_rpm?: number; band_mean_n_m?: number };
    if (n.news.event === 'pull' && typeof pull === 'number' && pull > 0) return { pull, against: typeof against === 'number' ? against : 0, text: n.text ?? '', low_rpm, high_rpm, mean_n_m: band_mean_n_m };
  }
  return null;
});

/* The last minute of speed and torque, each with its time: a ring that does not grow. */
export const RING = 1500, MINUTE_MS = 60_000;
export const ring = { time: new Float64Array(RING).fill(-Infinity), speed: new Float32Array(RING).fill(NaN), torque: new Float32Array(RING).fill(NaN), at: 0 };
export const drawers = new Set<() => void>();
function noteRing(speed: number | null | undefined, torque: number | null | undefined) {
  ring.at = (ring.at + 1) % RING;
  ring.time[ring.at] = performance.now();
  ring.speed[ring.at] = speed ?? NaN;
  ring.torque[ring.at] = torque ?? NaN;
}

/* The pull under way, or the last one that was seen: speed and torque as the cell reads them, in the order they came. It stays until
 * the next one begins. A wait in the data is a NaN, so that no line is drawn over it. `seen_ms`: of its last sample. */
export const trace = { speed: [] as number[], torque: [] as number[], under_way: false, seen_ms: 0, version: 0 };
const TRACE_MOST = 6000, TRACE_BREAK_MS = 1500;
function noteTrace(next: Frame, at_ms: number) {
  const begins = next.in_pull && !trace.under_way;
  trace.under_way = next.in_pull;
  if (begins) { trace.speed = []; trace.torque = []; }
  const speed = next.values['speed'], torque = next.values['torque'];
  if (!next.in_pull || !next.fresh || speed == null || torque == null) { if (begins) trace.version++; return; }
  if (trace.speed.length && at_ms - trace.seen_ms > TRACE_BREAK_MS) { trace.speed.push(NaN); trace.torque.push(NaN); }
  trace.speed.push(speed);
  trace.torque.push(torque);
  trace.seen_ms = at_ms;
  trace.version++;
  if (trace.speed.length > TRACE_MOST) { trace.speed = trace.speed.filter((_v, i) => i % 2 === 0); trace.torque = trace.torque.filter((_v, i) => i % 2 === 0); }
}

/* The last three seconds of every value, for rising and falling. */
const MOVED_MS = 3000;
const moves = new Map<string, [at: number, value: number][]>();
function noteMove(key: string, value: number | null, at: number) {
  const list = moves.get(key) ?? [];
  while (list.length && list[0]![0] < at - MOVED_MS) list.shift();
  if (value == null) list.length = 0; else list.push([at, value]);
  moves.set(key, list);
}
/** By how much a value rose over the last three seconds: mean of the last second less that of the first; NaN when not known. */
export function moved(key: string): number {
  const list = moves.get(key), end = list?.[list.length - 1]?.[0];
  if (!list || end === undefined || list[0]![0] > end - MOVED_MS * 0.8) return NaN;
  const mean = (from: number, to: number) => { const part = list.filter(([at]) => at >= from && at <= to); return part.reduce((sum, [, v]) => sum + v, 0) / part.length; };
  return mean(end - MOVED_MS / 3, end) - mean(end - MOVED_MS, end - MOVED_MS * 2 / 3);
}

let asking: Promise<void> | null = null, again = false;
async function askOnce() {
  try {
    const s = await api.live();
    heardTime(s.now);
    state.value = s;
    news.value = s.news;
    recorded.value = s.running;
    asked.value = true;
    takeStanding(s.server, s.standing);
  } catch (problem) { if (!isGone(problem)) complain(problem); }
}
/* One question at a time; what was asked for meanwhile is asked after it. */
export async function refresh(): Promise<void> {
  again = asking != null;
  asking ??= askOnce().finally(() => { asking = null; if (again) { again = false; void refresh(); } });
  return asking;
}

function settleSilence() {
  const f = frame.value;
  silentFor.value = f?.running && f.age_s != null && !f.fresh ? f.age_s + (performance.now() - arrived.value) / 1000 : null;
}

listen('hello', () => { frame.value = null; void refresh(); });
listen('live', (data) => {
  const next = JSON.parse(data) as Frame;
  heardTime(next.now);
  frame.value = next;
  arrived.value = now.value = performance.now();
  recorded.value = next.running;
  takeStanding(next.server, next.standing);
  if (next.running) noteRing(next.fresh ? next.values['speed'] : null, next.fresh ? next.values['torque'] : null);
  for (const key in next.values) noteMove(key, next.values[key] ?? null, arrived.value);
  noteTrace(next, arrived.value);
  settleSilence();
  drawers.forEach((draw) => draw());
  const known = state.value;
  if (known && !asking && (known.running !== next.running || known.table !== next.table || known.server !== next.server)) void refresh();
});
listen('news', (data) => {
  const one = JSON.parse(data) as LiveNews;
  news.value = [...news.value.slice(-39), one];
  if (['end', 'failed', 'started', 'setup', 'pull'].includes(one.news.event)) void refresh();
});
setInterval(() => { now.value = performance.now(); settleSilence(); if (old.value) drawers.forEach((draw) => draw()); }, 250);

export function value(key: string): number | null { return old.value ? null : frame.value?.values[key] ?? null; }

/** The alarms of a channel with their limits now; null while page and server speak of different tables. */
export function bandsOf(channel: string, index: number): { alarm: LiveAlarm; band: Band }[] | null {
  const known = state.value, next = frame.value;
  if (!known || !next || known.table !== next.table || known.alarms.length !== next.bands.length) return null;
  return known.alarms.map((alarm, i) => ({ alarm, band: next.bands[i]! }))
    .filter(({ alarm }) => alarm.channel === channel && (alarm.index < 0 || index < 0 || alarm.index === index));
}
