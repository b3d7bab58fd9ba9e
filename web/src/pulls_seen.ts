/* What is seen of the pulls, as the address says it, so that it can be sent: which number, which second one, which lines, samples, smoothing,
 * the range, the pin. What an address says wrongly is as if it were not said. */
import { go, route, units } from './state';
import type { Seen, Span } from './plot_line';

export type Shown = Record<'show' | 'also' | 'hide' | 'samples' | 'curve' | 'x' | 'y' | 'pin', string | null>;

const spanOf = (text: string | null): Span => {
  const [low = NaN, high = NaN] = (text ?? '').split(',').map(Number);
  return text && Number.isFinite(low) && Number.isFinite(high) && high > low ? [low, high] : null;
};
const told = (span: Span): string | null => span ? span.map((v) => String(Number(v.toPrecision(6)))).join(',') : null;

export function shownNow(): { show: string; also: string | null; hidden: number[]; samples: boolean | null; curve: boolean; seen: Seen; pinned: number | null; key: string } {
  const q = route.value.query, pin = Number(q.get('pin') ?? NaN);
  return {
    show: q.get('show') ?? 'torque', also: q.get('also'),
    hidden: (q.get('hide') ?? '').split(',').map(Number).filter((id) => id > 0),
    samples: q.get('samples') === '1' ? true : q.get('samples') === '0' ? false : null,
    curve: q.get('curve') !== '0',
    seen: { x: spanOf(q.get('x')), y: q.get('y')?.endsWith(',' + units.value) ? spanOf(q.get('y')) : null }, /* a range of other units is none */
    pinned: Number.isFinite(pin) ? pin : null,
    key: ['show', 'also', 'hide', 'samples', 'curve'].map((k) => q.get(k) ?? '').join('|'),
  };
}

/** The query of the address at hand with some of it changed; null takes it out. */
export function withQuery(changes: Record<string, string | null>): Record<string, string> {
  const next: Record<string, string> = {};
  route.value.query.forEach((value, key) => { next[key] = value; });
  for (const [key, value] of Object.entries(changes)) { if (value == null || value === '') delete next[key]; else next[key] = value; }
  return next;
}
/** In the place of the address at hand: Back leads to other pulls, not to each look at these. */
export function show(changes: Partial<Shown> | ReturnType<typeof import('./pulls_find').toAddress>) {
  if (route.value.screen !== 'pulls') return; /* somebody left before it stood still */
  const next = withQuery(changes), same = [...route.value.query.keys()].length === Object.keys(next).length && Object.entries(next).every(([k, v]) => route.value.query.get(k) === v);
  if (!same) go('pulls', next, true);
}
export const look = (seen: Seen, pinned: number | null) => { show({ x: told(seen.x), y: seen.y ? `${told(seen.y)},${units.value}` : null, pin: pinned == null ? null : String(pinned) }); };
/** What other pulls have no use for: the lines that were hidden, a range of other figures, a pin, an answer to be kept. */
export const ofTheseOnly: Record<string, null> = { hide: null, y: null, pin: null, keep: null };
