/* The names of many lines at the right of a plot: in the order in which the lines end, kept apart, in as many
 * columns as they need, each led to its line. */
import type uPlot from 'uplot';
import { dots, growth, ink, nameOf, scaleOf, type Drawn } from './plot_line';

export const FEW = 8; /* lines up to this have a band each, a dash and a mark of their own, and a name where they end */
export const SIDE_BY_SIDE = 6; /* pulls up to this have a column each in the table of facts */
const ROW = 13, FRAME = 70;

const columnsFor = (count: number, height: number) => Math.max(1, Math.ceil(count * ROW / Math.max(height - FRAME, ROW)));
const wide = (names: string[]) => 8 + 7 * Math.max(...names.map((name) => name.length), 2);
export const pad = (names: string[], height: number) => 22 + wide(names) * columnsFor(names.length, height);

/* Places in the order given, at least `apart` from each other, between low and high where they fit. */
export function keptApart(wanted: number[], apart: number, low: number, high: number): number[] {
  const at = [...wanted];
  for (let i = 0; i < at.length; i++) at[i] = Math.max(at[i]!, i ? at[i - 1]! + apart : low);
  for (let i = at.length - 1; i >= 0; i--) at[i] = Math.min(at[i]!, i < at.length - 1 ? at[i + 1]! - apart : high);
  return at;
}

export function drawManyNames(u: uPlot, lines: Drawn[], chosen: number) {
  const c = u.ctx, dot = dots(), columns = columnsFor(lines.length, u.height / growth()), column = wide(lines.map(({ line }) => nameOf(line))) * dot;
  const right = u.scales['x']!.max ?? Infinity;
  const ends = lines.flatMap(({ line, index }) => {
    const row = u.data[index]!;
    let i = row.length - 1;
    while (i >= 0 && (row[i] == null || u.data[0][i]! > right)) i--;
    return i < 0 ? [] : [{ line, index, x: u.valToPos(u.data[0][i]!, 'x', true), y: u.valToPos(row[i]!, scaleOf(line), true) }];
  }).sort((p, q) => p.y - q.y);
  const apart = Math.min(ROW / columns * dot, u.bbox.height / Math.max(ends.length, 1));
  const at = keptApart(ends.map((end) => end.y), apart, u.bbox.top + 6 * dot, u.bbox.top + u.bbox.height - 6 * dot);
  const edge = u.bbox.left + u.bbox.width;
  c.textAlign = 'left'; c.textBaseline = 'middle'; c.setLineDash([]);
  ends.forEach((end, i) => {
    const strong = chosen < 0 || end.index === chosen, px = edge + 18 * dot + column * (i % columns);
    c.strokeStyle = ink(end.line.ink) + (strong ? '88' : '2a'); c.lineWidth = 0.7 * dot;
    c.beginPath(); c.moveTo(end.x, end.y); c.lineTo(edge + 14 * dot, at[i]!); c.lineTo(edge + 16 * dot, at[i]!); c.stroke();
    c.fillStyle = ink(end.line.ink) + (strong ? '' : '77');
    c.fillText(nameOf(end.line), px, at[i]!);
  });
}

/* Where the names of dots stand: dots near each other have theirs one under the other. */
export function namesOfDots(u: uPlot, line: { x: number[]; y: (number | null)[] }): number[] {
  const at = line.y.map((y) => y == null ? 0 : u.valToPos(y, 'left', true)), apart = 12 * dots();
  const across = line.x.map((x) => u.valToPos(x, 'x', true));
  let here: number[] = [];
  const settle = () => {
    here.sort((p, q) => at[p]! - at[q]!);
    const middle = here.reduce((sum, i) => sum + at[i]!, 0) / Math.max(here.length, 1), reach = apart * (here.length - 1) / 2;
    const low = Math.min(middle - reach, ...here.map((i) => at[i]!)), high = Math.max(middle + reach, ...here.map((i) => at[i]!));
    keptApart(here.map((i) => at[i]!), apart, low, high).forEach((y, k) => { at[here[k]!] = y; });
    here = [];
  };
  for (const i of line.x.map((_x, k) => k).filter((k) => line.y[k] != null).sort((p, q) => across[p]! - across[q]!)) {
    if (here.length && across[i]! - across[here[here.length - 1]!]! > 2 * apart) settle();
    here.push(i);
  }
  settle();
  return at;
}
