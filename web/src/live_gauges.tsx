/* Gauges of the live screen. A band is what the alarms in force allow at this moment, told by the alarms themselves; where none watches, none is drawn. */
import type { LiveAlarm, LiveGauge } from './api';
import { bandsOf, frame, moved, old, value, type Band } from './live_state';
import { levelOf } from './alarm_list';
import { fixed, shown, unitOf } from './format';
import { t, inWords } from './words';

export const decimalsOf: Record<string, number> = { lambda: 3, 'pressure gauge': 2, temperature: 0, count: 0, speed: 0 };
const SENSOR_CHECK = /^(lost|frozen)\(/;
type Watching = { alarm: LiveAlarm; band: Band };

interface Allowed { low: number | null; high: number | null; lowBy: LiveAlarm | null; highBy: LiveAlarm | null }
/* The nearest limits of those in force. */
function allowed(all: Watching[]): Allowed {
  const a: Allowed = { low: null, high: null, lowBy: null, highBy: null };
  for (const { alarm, band: [state, low, high] } of all) {
    if (!alarm.of_reading || state === 0) continue;
    if (low != null && (a.low == null || low > a.low)) { a.low = low; a.lowBy = alarm; }
    if (high != null && (a.high == null || high < a.high)) { a.high = high; a.highBy = alarm; }
  }
  return a;
}

/* The figures of a band's ends, each with whose it is: which of them is left out where there is no room is never read out of a sentence. */
function limitParts(a: Allowed, kind: string, decimals: number): { figure: string; by: string }[] {
  const by = (alarm: LiveAlarm) => ' ' + t('({alarm}: {action})', { alarm: inWords(alarm.name), action: inWords(alarm.action) });
  const low = a.low != null && { figure: t('from {value}', { value: fixed(shown(kind, a.low), decimals) }), by: by(a.lowBy!) };
  const high = a.high != null && { figure: t('to {value}', { value: fixed(shown(kind, a.high), decimals) }), by: by(a.highBy!) };
  return [low, high].filter((one) => one !== false);
}
const limitWords = (a: Allowed, kind: string, decimals: number) => limitParts(a, kind, decimals).map((one) => one.figure + one.by).join(', ');

/** One sentence: what the alarms of a channel say now. */
export function bandWords(all: Watching[] | null, a: Allowed, kind: string, decimals: number): string {
  if (!all) return t('reading the alarms…');
  const worst = all.filter((w) => w.band[0] >= 2).sort((x, y) => y.band[0] - x.band[0] || levelOf(y.alarm.action) - levelOf(x.alarm.action))[0]; /* the gravest of those that tripped */
  if (worst) return worst.band[0] === 3 ? t('{alarm}: tripped, {action}', { alarm: inWords(worst.alarm.name), action: inWords(worst.alarm.action) }) : t('beyond its limit: {alarm}', { alarm: inWords(worst.alarm.name) });
  const told = limitWords(a, kind, decimals);
  if (told) return told;
  const readings = all.filter((w) => w.alarm.of_reading), others = all.filter((w) => !w.alarm.of_reading && !SENSOR_CHECK.test(w.alarm.watch));
  const asleep = readings.filter((w) => w.band[0] === 0), open = readings.filter((w) => w.band[0] > 0);
  if (asleep.length > 0) return t('not watched just now: {alarms}', { alarms: asleep.map((w) => inWords(w.alarm.name)).join(', ') });
  if (open.length > 0) return t('its limit is not known yet: no band');
  if (others.length > 0) return t('no limit on the figure itself; watched: {alarms}', { alarms: others.map((w) => inWords(w.alarm.name)).join(', ') });
  return all.length > 0 ? t('no limit: only its sensor is watched') : t('no alarm watches this: no band');
}

/* Slower than a hundredth of the scale in three seconds is steady. */
function Move({ keys, gauge }: { keys: string[]; gauge: LiveGauge }) {
  const most = keys.map(moved).filter((m) => !Number.isNaN(m)).sort((a, b) => Math.abs(b) - Math.abs(a))[0];
  if (old.value || most === undefined) return null;
  const share = most / (gauge.scale_high - gauge.scale_low);
  return <span class="gauge-move">{share > 0.01 ? '↑ rising' : share < -0.01 ? '↓ falling' : '→ steady'}</span>;
}

/* Nearer to its limit than this share of the scale: it stands out. Common practice, no source. */
const NEAR = 0.05;
const indexOf = (gauge: LiveGauge, key: string) => Number(key.slice(gauge.key.length + 1)) || 0;

interface Reading { inside: number | null; all: Watching[] | null; a: Allowed }
/** Of several readings the one nearest to its own limit, or furthest beyond it, with the alarms that watch that one: needle, band and
 * words speak of the same reading. Where nothing limits them, the highest. */
function worst(gauge: LiveGauge, keys: string[], index: number): Reading {
  const one = (key: string): Reading => {
    const all = bandsOf(gauge.key, keys.length > 1 ? indexOf(gauge, key) : index);
    return { inside: value(key), all, a: allowed(all ?? []) };
  };
  const room = ({ inside, a }: Reading) => Math.min(a.high == null ? Infinity : a.high - inside!, a.low == null ? Infinity : inside! - a.low);
  const known = keys.map(one).filter((r) => r.inside != null);
  if (known.length === 0) return { inside: null, all: bandsOf(gauge.key, index), a: allowed(bandsOf(gauge.key, index) ?? []) };
  return known.reduce((most, r) => room(r) < room(most) || (room(r) === room(most) && r.inside! > most.inside!) ? r : most);
}

function One({ gauge, keys, index, name }: { gauge: LiveGauge; keys: string[]; index: number; name: string }) {
  const { inside, all, a } = worst(gauge, keys, index);
  const at = (v: number) => 100 * Math.min(Math.max((v - gauge.scale_low) / (gauge.scale_high - gauge.scale_low), 0), 1);
  const banded = inside != null && (a.low != null || a.high != null);
  const from = a.low == null ? 0 : at(a.low), to = a.high == null ? 100 : at(a.high);
  const out = inside != null && (all ?? []).some((w) => w.band[0] >= 2);
  const decimals = decimalsOf[gauge.kind] ?? 1, room = NEAR * (gauge.scale_high - gauge.scale_low);
  const near = inside != null && !out && ((a.high != null && inside > a.high - room) || (a.low != null && inside < a.low + room));
  return (
    <div class={'gauge' + (out ? ' out' : near ? ' near' : '') + (inside == null ? ' gone' : '')} data-gauge={gauge.key}>
      <span class="gauge-label">{name}</span>
      <span class="gauge-value">{inside == null ? '– –' : fixed(shown(gauge.kind, inside), decimals)} <small>{unitOf(gauge.kind)}</small></span>
      <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect class="track" width="100" height="10" />{banded && <rect class="allowed" x={from} width={Math.max(to - from, 0)} height="10" />}
        {inside != null && <rect class="needle" x={Math.min(at(inside), 98.8)} width="1.2" height="10" />}
      </svg>
      <span class="gauge-move-line"><Move keys={keys} gauge={gauge} /></span>
      <span class="gauge-word">{inside == null ? 'no data' : bandWords(all, a, gauge.kind, decimals)}</span>
    </div>
  );
}

/** One bar a reading; of more than two of a kind (cylinders), one bar for the highest. */
export function Gauge({ gauge }: { gauge: LiveGauge }) {
  const values = frame.value?.values ?? {};
  const own = Object.keys(values).filter((k) => k === gauge.key || (k.startsWith(gauge.key + '_') && /^\d+$/.test(k.slice(gauge.key.length + 1))));
  if (own.length === 0) return null;
  if (own.length > 2) return <One gauge={gauge} keys={own} index={-1} name={t('{channel}, nearest to its limit of {n}', { channel: inWords(gauge.label), n: own.length })} />;
  return <>{own.map((k) => {
    const index = Number(k.slice(gauge.key.length + 1)) || 0;
    return <One key={k} gauge={gauge} keys={[k]} index={index} name={index ? `${inWords(gauge.label)} ${index}` : gauge.label} />;
  })}</>;
}

/** The limits of speed and torque, in words under the large figures. */
export function HeroLimit({ channel, kind }: { channel: string; kind: string }) {
  const all = bandsOf(channel, 0);
  if (old.value || !all) return null;
  const out = all.some((w) => w.band[0] >= 2), parts = out ? [] : limitParts(allowed(all), kind, 0);
  /* which alarm a limit is of: left out where there is no room; what tripped never is */
  return <span class={'hero-limit' + (out ? ' out' : '')}>{parts.length > 0 ? parts.map((one, i) => <>{i > 0 && ', '}{one.figure}<span class="hero-why">{one.by}</span></>) : bandWords(all, allowed(all), kind, 0)}</span>;
}
