/* Torque over speed as the pull runs, laid over an earlier one of the engine. Both as the cell reads them: not corrected, and without what
 * the turning parts take, so that the line under way lies where the earlier one lay at this moment. Drawn on a canvas: a frame costs one pass over
 * the samples of the pull (at most TRACE_MOST). */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { ComponentChild } from 'preact';
import { api, counts, type Pull, type PullCurve } from './api';
import { useAsked } from './answered';
import { fixed, quantity, rpm, shown, unitOf } from './format';
import { drawers, inPull, lastKept, old, session, state, trace, value } from './live_state';
import { changes, units } from './state';
import { dots, ink, LETTER, theme } from './plot_line';
import { fontOf } from './plot_draw';
import { t, tx } from './words';

export type Over = 'last' | 'best' | 'none';
/* Pulls that end nearer to each other than this ran to one limit, as in ew_is_same_limit of the program. */
const SAME_LIMIT_RPM = 150;

/** The pull to lie underneath: the last one that counts, or of those to the same limit the one with the highest mean. */
export function underneath(pulls: Pull[], engine: number, over: Over, not: number): Pull | null {
  const sound = pulls.filter((p) => counts(p) && p.engine_id === engine && p.id !== not), last = sound[sound.length - 1];
  if (!last || over === 'none') return null;
  if (over === 'last') return last;
  const like = sound.filter((p) => Math.abs((p.top_speed_rpm ?? NaN) - (last.top_speed_rpm ?? NaN)) < SAME_LIMIT_RPM);
  return like.reduce((best, p) => (p.band_mean_torque_n_m ?? -Infinity) > (best.band_mean_torque_n_m ?? -Infinity) ? p : best, last);
}

interface Base { speed: number[]; torque: (number | null)[]; half: (number | null)[] }
/* As the cell read it: the stored curve has what the turning parts took added back. */
function baseOf(one: PullCurve | undefined): Base | null {
  if (!one) return null;
  const c = one.curve;
  return { speed: c.speed_rpm, torque: c.observed_torque_n_m.map((v, i) => v == null ? null : v - (c.inertia_torque_n_m[i] ?? 0)), half: c.torque_comparative_n_m };
}

const most = (values: (number | null)[]) => values.reduce<number>((top, v) => v != null && v > top ? v : top, 0);
const least = (values: (number | null)[]) => values.reduce<number>((low, v) => v != null && v < low ? v : low, Infinity);

interface Frame { low: number; high: number; bottom: number; top: number }
/* What the axes hold: it grows in steps and never shrinks in a pull, so that nothing jumps. */
function frameOf(base: Base | null, limit: number | null): Frame {
  const fastest = Math.max(limit ?? 0, base ? most(base.speed) : 0, most(trace.speed.filter((v) => !Number.isNaN(v))), 4000);
  const slowest = Math.min(base ? least(base.speed) : trace.speed.length ? Infinity : 0.3 * fastest, least(trace.speed.filter((v) => !Number.isNaN(v))), fastest - 2000); /* nothing known yet: as pulls begin, not the last corner below the limit */
  const highest = Math.max(base ? most(base.torque) : 0, most(trace.torque.filter((v) => !Number.isNaN(v))), 50);
  const lowest = base ? Math.min(least(base.torque), highest) : 0;
  return { low: Math.floor(slowest / 500) * 500, high: Math.ceil((fastest + 1) / 500) * 500, bottom: base ? Math.floor(0.75 * lowest / 10) * 10 : 0, top: Math.ceil(1.08 * highest / 10) * 10 };
}

/* For the eye only: the mean of a sample and the SMOOTH_SAMPLES on each side of it, within one stretch; the samples stay behind it. */
const SMOOTH_SAMPLES = 5, FALLS_RPM = 60;
/* Below this share of what the pull held, and not back above it: the load has come off. Such samples are drawn thin, and no curve through them.
 * Common practice, no source. */
const LOADED_SHARE = 0.6;
/** How many samples of the pull lie before the load came off, and before its highest speed. O(samples log samples). */
export function loadedOf(speed: number[], torque: number[]): number {
  const known = torque.filter((v) => !Number.isNaN(v)).sort((p, q) => p - q);
  const held = LOADED_SHARE * (known[Math.floor(known.length / 2)] ?? 0);
  let end = speed.reduce((best, v, i) => v > (Number.isNaN(speed[best]!) ? -Infinity : speed[best]!) ? i : best, 0) + 1;
  while (end > 0 && !(torque[end - 1]! >= held)) end--;
  return end;
}
function smoothed(values: number[]): number[] {
  return values.map((v, i) => {
    if (Number.isNaN(v)) return v;
    let sum = 0, count = 0;
    for (let k = Math.max(0, i - SMOOTH_SAMPLES); k <= Math.min(values.length - 1, i + SMOOTH_SAMPLES); k++) if (!Number.isNaN(values[k]!)) { sum += values[k]!; count++; }
    return sum / count;
  });
}

function stepOf(span: number, parts: number): number {
  const raw = span / parts, power = 10 ** Math.floor(Math.log10(raw));
  return [1, 2, 5, 10].map((s) => s * power).find((s) => s >= raw) ?? raw;
}

function draw(canvas: HTMLCanvasElement, base: Base | null, limit: number | null) {
  const ratio = devicePixelRatio, w = canvas.clientWidth * ratio, h = canvas.clientHeight * ratio;
  if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
  const c = canvas.getContext('2d')!, dot = dots(), f = frameOf(base, limit), kind = 'torque';
  const left = 52 * dot, right = w - 26 * dot, top = 8 * dot, bottom = h - 26 * dot;
  const x = (v: number) => left + (right - left) * (v - f.low) / (f.high - f.low);
  const y = (v: number) => bottom - (bottom - top) * (v - f.bottom) / (f.top - f.bottom);
  c.clearRect(0, 0, w, h);
  c.font = fontOf((LETTER + 2) * dot); c.fillStyle = ink('quiet'); c.strokeStyle = ink('rule'); c.lineWidth = dot; c.setLineDash([]);
  c.textAlign = 'center'; c.textBaseline = 'top';
  const most_lines = Math.max((right - left) / (c.measureText(fixed(f.high, 0)).width + 12 * dot), 2); /* their figures stand side by side */
  const every = [500, 1000, 2000, 5000].find((s) => (f.high - f.low) / s <= Math.min(most_lines, 12)) ?? 10000;
  for (let v = f.low; v <= f.high; v += every) { c.beginPath(); c.moveTo(x(v), top); c.lineTo(x(v), bottom); c.stroke(); c.fillText(fixed(v, 0), x(v), bottom + 6 * dot); }
  c.textAlign = 'right'; c.textBaseline = 'middle';
  const low = shown(kind, f.bottom), high = shown(kind, f.top), step = stepOf(high - low, 5);
  for (let s = Math.ceil(low / step) * step; s <= high; s += step) {
    const at = bottom - (bottom - top) * (s - low) / (high - low);
    c.beginPath(); c.moveTo(left, at); c.lineTo(right, at); c.stroke(); c.fillText(fixed(s, 0), left - 7 * dot, at);
  }
  if (limit != null) {
    c.strokeStyle = ink('grave'); c.setLineDash([6 * dot, 5 * dot]); c.beginPath(); c.moveTo(x(limit), top); c.lineTo(x(limit), bottom); c.stroke(); c.setLineDash([]);
  }
  c.save(); c.beginPath(); c.rect(left, top, right - left, bottom - top); c.clip();
  if (base) {
    const known = base.speed.map((_s, i) => i).filter((i) => base.torque[i] != null && base.half[i] != null);
    c.fillStyle = ink('ochre') + '26'; c.beginPath();
    known.forEach((i) => c.lineTo(x(base.speed[i]!), y(base.torque[i]! + base.half[i]!)));
    [...known].reverse().forEach((i) => c.lineTo(x(base.speed[i]!), y(base.torque[i]! - base.half[i]!)));
    c.closePath(); c.fill();
    c.strokeStyle = ink('ochre'); c.lineWidth = 2 * dot; c.setLineDash([9 * dot, 5 * dot]); c.beginPath();
    let pen = false;
    base.speed.forEach((s, i) => { const v = base.torque[i]; if (v == null) { pen = false; return; } if (pen) c.lineTo(x(s), y(v)); else c.moveTo(x(s), y(v)); pen = true; });
    c.stroke(); c.setLineDash([]);
  }
  const loaded = loadedOf(trace.speed, trace.torque);
  const through = (values: number[], end = trace.speed.length) => {
    c.beginPath();
    let pen = false;
    let fastest = -Infinity;
    trace.speed.slice(0, end).forEach((s, i) => {
      const v = values[i]!;
      if (!Number.isNaN(s)) fastest = Math.max(fastest, s);
      if (Number.isNaN(s) || Number.isNaN(v) || s < fastest - FALLS_RPM) { pen = false; return; } /* the load comes off: no part of the curve */
      if (pen) c.lineTo(x(s), y(v)); else c.moveTo(x(s), y(v));
      pen = true;
    });
    c.stroke();
  };
  const last = trace.speed.length - 1;
  c.lineJoin = 'round'; c.strokeStyle = ink('blue') + '55'; c.lineWidth = 1.2 * dot; through(trace.torque);
  c.strokeStyle = ink('blue'); c.lineWidth = 3.5 * dot; through(smoothed(trace.torque.slice(0, loaded)), loaded);
  canvas.dataset['loaded'] = String(loaded);
  canvas.dataset['samples'] = String(last + 1); canvas.dataset['under'] = base ? String(base.speed.length) : '0';
  if (trace.under_way && last >= 0 && !old.value) { c.fillStyle = ink('blue'); c.beginPath(); c.arc(x(trace.speed[last]!), y(trace.torque[last]!), 6 * dot, 0, 2 * Math.PI); c.fill(); }
  c.restore();
}

/* How far it still is, as the person with the lever asks. */
function ToGo({ limit }: { limit: number | null }) {
  const speed = value('speed');
  if (limit == null) return <p class="to-go quiet">No limit is known: give one when you begin, or the engine's agreed limit.</p>;
  if (!inPull.value || speed == null) return <p class="to-go">{t("Today's limit {speed} rpm", { speed: rpm(limit) })}</p>;
  const left = limit - speed;
  return <p class={'to-go' + (left <= 0 ? ' beyond' : '')}><progress max={limit} value={Math.min(speed, limit)} aria-hidden="true" /> {left > 0 ? t('{speed} rpm to the limit of {limit}', { speed: rpm(left, 50), limit: rpm(limit) }) : t('{speed} rpm BEYOND the limit of {limit}', { speed: rpm(-left), limit: rpm(limit) })}</p>;
}

/* The most that the pull underneath made, in figures that a customer reads. */
function Best({ curve }: { curve: PullCurve | undefined }) {
  if (!curve) return null;
  const power = most(curve.curve.power_w), at = curve.curve.speed_rpm[curve.curve.power_w.indexOf(power)];
  return <p class="to-go">{t('Best so far: {power} at {speed} rpm, corrected', { power: quantity('power', power, 0), speed: rpm(at, 50) })}</p>;
}

/* `known`: the pulls have been asked for and answered. */
function says(base: Pull | null, own: boolean, over: Over, plain: boolean, known: boolean): ComponentChild {
  const unit = unitOf('torque');
  if (trace.speed.length === 0 && !base) return t('Torque, {unit}, over speed: the next pull is drawn here as it runs.', { unit });
  const line = <b class="blue">{trace.under_way ? t('this pull') : t('the last pull seen')}</b>;
  if (plain) return base ? tx('Torque, {unit}, over speed: {line}; the best so far is dashed.', { unit, line }) : tx('Torque, {unit}, over speed: {line}.', { unit, line });
  if (own) return tx('Torque, {unit}, over speed: {line} as the cell reads it. Practice goes into a book of its own: nothing of this book lies underneath.', { unit, line });
  if (!base && over !== 'none' && known) return tx('Torque, {unit}, over speed: {line} as the cell reads it. {engine} has no earlier pull that counts.', { unit, line, engine: <span translate={false}>{state.value?.engine ?? t('This engine')}</span> });
  return base ? tx('Torque, {unit}, over speed: {line} over {base}, dashed, with its band; both as the cell reads them.', { unit, line, base: <b class="ochre">{t('pull {pull}', { pull: base.id })}</b> })
    : tx('Torque, {unit}, over speed: {line} as the cell reads it.', { unit, line });
}

/** `plain`: for the customer's window, over the best so far, without limits and choices; `power`: whether it may be told. */
export function LiveCurve({ plain = false, power = true }: { plain?: boolean; power?: boolean }) {
  const canvas = useRef<HTMLCanvasElement>(null), [chosen, setOver] = useState<Over>('last'), [, setVersion] = useState(0), over = plain ? 'best' : chosen;
  const own = state.value?.own_book != null, limit = plain ? null : state.value?.limit_rpm ?? null;
  const engine = state.value?.engine_id ?? 0;
  const { answer: pulls } = useAsked(`live-pulls-${engine}`, own || engine === 0 || session.value === 'unknown' ? null : () => api.pulls(units.value, engine), [changes.value]);
  /* a pull that is over is drawn over the one before it, and not over itself */
  const itself = !trace.under_way && trace.speed.length > 0 ? lastKept.value?.pull ?? 0 : 0;
  const base = pulls ? underneath(pulls, engine, over, itself) : null;
  const { answer: curves } = useAsked(`live-base-${base?.id ?? 0}`, base ? () => api.curves([base.id], units.value) : null);
  const line = useMemo(() => baseOf(curves?.[0]), [curves]);
  useEffect(() => {
    const element = canvas.current!;
    let due = false, under = trace.under_way;
    const paint = () => { due = false; draw(element, line, limit); if (under !== trace.under_way) { under = trace.under_way; setVersion((v) => v + 1); } };
    const ask = () => { if (!due) { due = true; requestAnimationFrame(paint); } };
    drawers.add(ask);
    ask();
    const resized = new ResizeObserver(ask);
    resized.observe(element);
    return () => { drawers.delete(ask); resized.disconnect(); };
  }, [line, limit, units.value, theme.value]);
  return (
    <figure class="live-curve">
      {plain ? power && <Best curve={curves?.[0]} /> : <div class="live-curve-head"><ToGo limit={limit} />
        <span class="switch" role="group" aria-label="Underneath">{(['last', 'best', 'none'] as Over[]).map((o) => <button key={o} type="button" aria-pressed={over === o} onClick={() => setOver(o)}>{o === 'last' ? t('over the last') : o === 'best' ? t('over the best') : t('alone')}</button>)}</span></div>}
      <canvas ref={canvas} aria-hidden="true" />
      <figcaption class="quiet">{says(base, own, over, plain, pulls != null)}</figcaption>
    </figure>
  );
}
