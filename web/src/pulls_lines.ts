/* The lines of the pulls that are looked at: one a pull for the number chosen, one more for a second number on the right axis, its samples
 * where they are wanted; and the difference of the two sides. A side has its colour, a pull its dash and its mark. */
import type { Comparison, PullCurve } from './api';
import { columnKind, columnLabel, shown, unitOf } from './format';
import type { Line } from './plot';
import { DASHES, TOLD_APART } from './plot_marks';
import { FEW } from './plot_names';
import type { Side } from './pulls_list';
import { t, inWords } from './words';

export interface Wish { what: string; also: string | null; samples: boolean; curve: boolean }

const isMain = (what: string) => what === 'torque' || what === 'power';
export const unitOfWhat = (what: string) => { const kind = isMain(what) ? what : columnKind(what); return kind ? unitOf(kind) : ''; };
export const labelOfWhat = (what: string) => isMain(what) ? t(what === 'power' ? 'corrected power' : 'corrected torque') : columnLabel(what);

const toPower = (torque: number | null, rpm: number) => torque == null ? null : torque * rpm * Math.PI / 30;

interface Values { y: (number | null)[]; half?: (number | null)[]; decimals: number }
/* In the reader's units. */
function valuesOf(p: PullCurve, what: string): Values | null {
  const c = p.curve;
  if (!isMain(what)) {
    const column = c.columns[what], kind = columnKind(what);
    return column ? { y: column.map((v) => v == null ? null : kind ? shown(kind, v) : v), decimals: 3 } : null;
  }
  const torque = what === 'torque', scale = Math.abs(shown(what, 1) - shown(what, 0));
  const half = c.torque_comparative_n_m.map((h, i) => { const own = torque ? h : toPower(h, c.speed_rpm[i]!); return own == null ? null : own * scale; });
  return { y: (torque ? c.torque_n_m : c.power_w).map((v) => v == null ? null : shown(what, v)), half, decimals: 1 };
}
function samplesOf(p: PullCurve, what: string, ink: Line['ink']): Line[] {
  if (!p.raw || !isMain(what)) return [];
  const { speed_rpm: x, torque_n_m: torque } = p.raw;
  return [{ label: t('samples of pull {pull}', { pull: p.id }), x, y: torque.map((v, i) => { const own = what === 'torque' ? v : toPower(v, x[i]!); return own == null ? null : shown(what, own); }), ink, faint: true }];
}

/** `place`: which of the lines it is, for its dash and mark. `single`: nothing to be told apart from. */
export function lineOf(p: PullCurve, side: Side, wish: Wish, place: number, single: boolean): Line[] {
  const ink = side === 'a' ? 'blue' as const : 'ochre' as const, name = `${side.toUpperCase()} ${p.id}`, at = place % TOLD_APART;
  const values = valuesOf(p, wish.what), second = wish.also ? valuesOf(p, wish.also) : null;
  const style = single ? {} : { dash: DASHES[at]!, marker: at };
  const nameOf = (what: string) => single ? isMain(what) ? inWords(what) : labelOfWhat(what) : name;
  const lines: Line[] = wish.samples ? samplesOf(p, wish.what, ink) : [];
  if (values && (wish.curve || !isMain(wish.what))) lines.push({ id: p.id, label: t('{what} of pull {pull}', { what: isMain(wish.what) ? inWords(wish.what) : labelOfWhat(wish.what), pull: p.id }), name: nameOf(wish.what), x: p.curve.speed_rpm, ...values, ink, ...style });
  if (second) lines.push({ id: p.id, label: t('{what} of pull {pull}', { what: isMain(wish.also!) ? inWords(wish.also!) : labelOfWhat(wish.also!), pull: p.id }), name: single ? nameOf(wish.also!) : t('{line}, {what}', { line: name, what: labelOfWhat(wish.also!) }),
    x: p.curve.speed_rpm, y: second.y, decimals: second.decimals, ink: single ? 'ochre' : ink, dash: single ? [8, 5] : DASHES[at]!, axis: 'right', thin: true });
  return lines;
}

/* Beyond what can be told apart, the rest fades: the older of a side stand further back. */
export function paled(lines: Line[]): Line[] {
  if (lines.filter((line) => !line.faint).length <= FEW) return lines;
  return lines.map((line) => {
    const side = lines.filter((other) => other.ink === line.ink), at = side.indexOf(line);
    const bare = { ...line, pale: 1 - (at + 1) / side.length };
    delete bare.marker;
    if (line.ink === 'ochre') bare.dash = [8, 5]; else delete bare.dash;
    return bare;
  });
}

export function differenceOf(answer: Comparison | null): Line[] {
  if (!answer?.curve) return [];
  const { speed_rpm, relative_difference, relative_half_width } = answer.curve;
  return [{ label: 'B less A', name: 'B − A', x: speed_rpm, y: relative_difference.map((d) => 100 * Math.expm1(d)), half: relative_half_width.map((h) => 100 * h), ink: 'green', decimals: 2 }];
}
/** Of two pulls, where the answer has no curve, or another number is looked at: what was measured, and how well. Torque and power in %,
 * all else in its unit. How a pull repeats is not in this band. */
export function measuredDifference(a: PullCurve, b: PullCurve, what: string): Line[] {
  const main = isMain(what), of = (p: PullCurve) => valuesOf(p, main ? 'torque' : what), va = of(a), vb = of(b);
  if (!va || !vb) return [];
  const x: number[] = [], y: number[] = [], half: (number | null)[] = [];
  a.curve.speed_rpm.forEach((speed, i) => {
    const k = b.curve.speed_rpm.indexOf(speed), ya = va.y[i], yb = k < 0 ? null : vb.y[k];
    if (ya == null || yb == null || (main && !(ya > 0 && yb > 0))) return;
    const ha = va.half?.[i], hb = vb.half?.[k];
    x.push(speed);
    y.push(main ? 100 * (yb / ya - 1) : yb - ya);
    half.push(main && ha != null && hb != null ? 100 * yb / ya * Math.hypot(ha / ya, hb / yb) : null);
  });
  return x.length < 2 ? [] : [{ label: 'B less A', name: 'B − A', x, y, ...(main ? { half } : {}), ink: 'green', decimals: main ? 2 : 3 }];
}
