/* The lines of the pulls that are looked at: one a pull for the number chosen, torque and power of a single one with its
 * samples behind; and the difference of the two sides. */
import type { Comparison, PullCurve } from './api';
import { columnKind, columnLabel, shown } from './format';
import type { Line } from './plot';
import { FEW } from './plot_names';
import type { Side } from './pulls_list';
import { t, inWords } from './words';

/* The line of one pull for the number that is looked at. */
export function lineOf(p: PullCurve, side: Side, what: string, single: boolean): Line[] {
  const style = { id: p.id, ...(side === 'a' ? { ink: 'blue' as const } : { ink: 'ochre' as const, dash: [8, 5] }) };
  const name = `${side.toUpperCase()} ${p.id}`;
  const c = p.curve;
  if (what === 'torque' || what === 'power') {
    const torque = what === 'torque', kind = what;
    const values = torque ? c.torque_n_m : c.power_w;
    const toPower = (rpmValue: number) => torque ? 1 : rpmValue * Math.PI / 30;
    const scale = Math.abs(shown(kind, 1) - shown(kind, 0));
    const half = c.torque_comparative_n_m.map((h, i) => h == null ? null : h * toPower(c.speed_rpm[i]!) * scale);
    const line: Line = { label: t('{what} of pull {pull}', { what: inWords(kind), pull: p.id }), name, x: c.speed_rpm, y: values.map((v) => v == null ? null : shown(kind, v)), half, decimals: 1, ...style };
    if (!single || !torque) return [line];
    const raw: Line | null = p.raw ? { label: 'samples', x: p.raw.speed_rpm, y: p.raw.torque_n_m.map((v) => v == null ? null : shown('torque', v)), ink: style.ink, faint: true } : null;
    return [...(raw ? [raw] : []), { ...line, name: 'torque' }, { label: t('{what} of pull {pull}', { what: inWords('power'), pull: p.id }), name: 'power', x: c.speed_rpm, y: c.power_w.map((v) => v == null ? null : shown('power', v)), ink: 'ochre', dash: [8, 5], axis: 'right', decimals: 1 }];
  }
  const column = c.columns[what];
  if (!column) return [];
  const kind = columnKind(what);
  return [{ label: t('{what} of pull {pull}', { what: columnLabel(what), pull: p.id }), name, x: c.speed_rpm, y: column.map((v) => v == null ? null : kind ? shown(kind, v) : v), decimals: 3, ...style }];
}

/* Among many lines of a side, the older stand further back. */
export function paled(lines: Line[]): Line[] {
  if (lines.length <= FEW) return lines;
  return lines.map((line) => {
    const side = lines.filter((other) => other.ink === line.ink), at = side.indexOf(line);
    return { ...line, pale: 1 - (at + 1) / side.length };
  });
}

export function differenceOf(answer: Comparison | null): Line[] {
  if (!answer?.curve) return [];
  const { speed_rpm, relative_difference, relative_half_width } = answer.curve;
  return [{ label: 'B less A', name: 'B − A', x: speed_rpm, y: relative_difference.map((d) => 100 * Math.expm1(d)), half: relative_half_width.map((h) => 100 * h), ink: 'green', decimals: 2 }];
}
