/* Where the cursor of a plot stands, which line is chosen, the keys that move both, and what is told of them in words. */
import type uPlot from 'uplot';
import { fixed } from './format';
import { nameOf, scaleOf, type Drawn, type PlotProps } from './plot_line';
import { t } from './words';

interface Known { drawn: Drawn[]; places: number[] } /* places: where a line has a point; raw samples between are not stepped through */
const known = new WeakMap<uPlot, Known>();

export function knowOf(u: uPlot, drawn: Drawn[]) {
  const places = Array.from(u.data[0], (_x, i) => i).filter((i) => drawn.some(({ index }) => u.data[index]![i] != null));
  known.set(u, { drawn, places });
}

/* Where somebody put a pin: what is told of the cursor is told against it, too. It goes with its plot. */
const pins = new WeakMap<uPlot, number>();
export const pinOf = (u: uPlot) => pins.get(u) ?? null;
const pinTold = new WeakMap<uPlot, () => void>();
export const tellPin = (u: uPlot, tell: () => void) => { pinTold.set(u, tell); };
export function pinAt(u: uPlot, i: number | null) {
  if (i == null) pins.delete(u); else pins.set(u, i);
  pinTold.get(u)?.();
  u.redraw(false);
}
export function pin(u: uPlot) {
  const i = placeOf(u);
  pinAt(u, pins.get(u) === i ? null : i);
}
/** The point nearest to a place that an address names. */
export function pinNear(u: uPlot, x: number) {
  const all = known.get(u)?.places ?? [];
  if (all.length) pins.set(u, all.reduce((best, k) => Math.abs(u.data[0][k]! - x) < Math.abs(u.data[0][best]! - x) ? k : best, all[0]!));
}

export const chosenOf = (u: uPlot) => u.series.findIndex((s, i) => i > 0 && (s as { _focus?: boolean | null })._focus === true);
const chosenLine = (u: uPlot) => known.get(u)?.drawn.find(({ index }) => index === chosenOf(u));

/* The place of a point that is nearest to where the cursor stands. */
export function placeOf(u: uPlot): number | null {
  const i = u.cursor.idx, all = known.get(u)?.places;
  if (i == null || !all || all.length === 0) return null;
  const x = u.data[0], at = x[i]!;
  return all.reduce((best, k) => Math.abs(x[k]! - at) < Math.abs(x[best]! - at) ? k : best, all[0]!);
}

/* The line nearest to the pointer, at the cursor's place. */
export function nearest(u: uPlot): Drawn | undefined {
  const i = placeOf(u), at = u.cursor.top ?? -1;
  if (i == null || at < 0) return undefined;
  const away = ({ line, index }: Drawn) => { const y = u.data[index]![i]; return y == null ? Infinity : Math.abs(u.valToPos(y, scaleOf(line)) - at); };
  return known.get(u)?.drawn.filter((top) => !top.line.dots).reduce<Drawn | undefined>((best, top) => !best || away(top) < away(best) ? top : best, undefined);
}

/* Up and down go through the lines as they lie at the cursor. */
function choose(u: uPlot, i: number, by: number) {
  const here = (known.get(u)?.drawn ?? []).filter(({ line, index }) => !line.dots && !line.faint && u.data[index]![i] != null).sort((p, q) => u.data[q.index]![i]! - u.data[p.index]![i]!);
  const now = here.findIndex(({ index }) => index === chosenOf(u));
  const next = here[Math.min(Math.max(now < 0 ? 0 : now + by, 0), here.length - 1)];
  if (next) u.setSeries(next.index, { focus: true });
}

function moveTo(u: uPlot, i: number, chosen = chosenLine(u)) {
  const y = chosen && u.data[chosen.index]![i];
  u.setCursor({ left: u.valToPos(u.data[0][i]!, 'x'), top: chosen && y != null ? u.valToPos(y, scaleOf(chosen.line)) : u.over.clientHeight / 2 });
  if (chosen) u.setSeries(chosen.index, { focus: true });
}

function zoom(u: uPlot, i: number, factor: number) {
  const x = u.data[0], scale = u.scales['x']!, middle = x[i]!;
  const low = scale.min ?? x[0]!, high = scale.max ?? x[x.length - 1]!;
  show(u, i, middle - (middle - low) * factor, middle + (high - middle) * factor);
}
/* The same point of the same line stays chosen, wherever a new scale puts it: the line nearest to where it was is another one. */
function show(u: uPlot, i: number, min: number, max: number) {
  const chosen = chosenLine(u);
  u.batch(() => u.setScale('x', { min, max }));
  moveTo(u, i, chosen);
}

export function steer(u: uPlot, event: KeyboardEvent, onAll: (u: uPlot) => void, onPick?: PlotProps['onPick']) {
  const x = u.data[0], all = known.get(u)?.places ?? [];
  const i = placeOf(u) ?? all[Math.floor(all.length / 2)] ?? 0;
  const step = (by: number) => all[Math.min(Math.max(all.indexOf(i) + by, 0), all.length - 1)] ?? 0;
  switch (event.key) {
    case 'ArrowLeft': moveTo(u, step(event.shiftKey ? -10 : -1)); break;
    case 'ArrowRight': moveTo(u, step(event.shiftKey ? 10 : 1)); break;
    case 'Home': moveTo(u, all[0] ?? 0); break;
    case 'End': moveTo(u, all[all.length - 1] ?? 0); break;
    case '+': case '=': zoom(u, i, 0.6); break;
    case '-': zoom(u, i, 1 / 0.6); break;
    case '0': onAll(u); show(u, i, x[0]!, x[x.length - 1]!); break;
    case 'ArrowUp': choose(u, i, -1); break;
    case 'ArrowDown': choose(u, i, 1); break;
    case 'p': pin(u); break;
    case 'Escape': u.setSeries(null, { focus: true }); pinAt(u, null); break;
    case 'Enter': onPick?.(x[i]!, chosenLine(u)?.line.id); break;
    default: return;
  }
  event.preventDefault();
}

/* What stands under the cursor: each of a few lines; of many the one chosen, and how far they reach. */
export function told(u: uPlot, props: PlotProps, drawn: Drawn[], many: boolean): string {
  const i = placeOf(u);
  if (i == null) return '';
  const here = drawn.filter(({ index }) => Number.isFinite(u.data[index]![i] ?? NaN)), value = ({ index }: Drawn) => u.data[index]![i]!;
  const unit = ({ line }: Drawn) => { const says = line.axis === 'right' ? props.right : props.left; return says ? '\u202f' + says : ''; };
  const halfOf = ({ line }: Drawn) => { const k = line.half ? line.x.indexOf(u.data[0][i]!) : -1; return k < 0 ? null : line.half![k] ?? null; };
  const plusMinus = (half: number | null, decimals: number) => half == null ? '' : ` ± ${fixed(half, decimals)}`;
  const one = (top: Drawn) => `${nameOf(top.line)} ${fixed(value(top), top.line.decimals ?? 1)}${plusMinus(halfOf(top), top.line.decimals ?? 1)}${unit(top)}`;
  const at = `${fixed(u.data[0][i]!, props.xDecimals ?? 0)} ${props.xLabel}: `;
  const from = pinOf(u), apart = (top: Drawn) => { const then = from == null ? null : u.data[top.index]![from]; return then == null ? '' : ` (${value(top) >= then ? '+' : ''}${fixed(value(top) - then, top.line.decimals ?? 1)})`; };
  const pinned = from == null ? '' : ' ' + t('In brackets: against the pin at {place}.', { place: `${fixed(u.data[0][from]!, props.xDecimals ?? 0)} ${props.xLabel}` });
  const first = here[0], compared = props.compares && here.length > 1;
  /* against the first line of the same quantity; errors common to both cancel in the half-widths, which add up as squares */
  const against = (top: Drawn) => {
    const base = here.find(({ line }) => scaleOf(line) === scaleOf(top.line));
    if (!compared || !base || base === top) return '';
    const decimals = top.line.decimals ?? 1, d = value(top) - value(base), a = halfOf(base), b = halfOf(top);
    return ` Δ\u202f${d >= 0 ? '+' : ''}${fixed(d, decimals)}${plusMinus(a == null || b == null ? null : Math.hypot(a, b), decimals)}`;
  };
  if (!many) return at + here.map((top) => one(top) + against(top) + apart(top)).join(', ') + (compared && first ? '. ' + t('Δ: against {line}.', { line: nameOf(first.line) }) : '') + pinned;
  const chosen = here.find(({ index }) => index === chosenOf(u)), values = here.map(value), decimals = here[0]?.line.decimals ?? 1;
  return at + (chosen ? one(chosen) + '; ' : '') + t('{n} lines, {low} to {high}', { n: here.length, low: fixed(Math.min(...values), decimals), high: fixed(Math.max(...values), decimals) });
}
