/* The lines of a plot as uPlot wants them: one x for all, a column a line, two more for a band. */
import uPlot from 'uplot';
import { FEW } from './plot_names';
import { ink, scaleOf, type Drawn, type Line } from './plot_line';

type Column = (number | null)[];
export interface Data {
  columns: Column[]; /* the first is x */
  series: uPlot.Series[];
  bands: uPlot.Band[];
  drawn: Drawn[];
  many: boolean; /* more lines than can have a band and a name each */
}

/* All lines on one x, and where each value stands in it. */
function joined(lines: Line[], reach?: [number, number]): { x: number[]; at: Map<number, number> } {
  const all = new Set<number>();
  for (const x of reach ?? []) if (Number.isFinite(x)) all.add(x);
  for (const line of lines) for (const x of line.x) if (Number.isFinite(x)) all.add(x);
  const x = [...all].sort((a, b) => a - b);
  return { x, at: new Map(x.map((value, i) => [value, i])) };
}

type Spread = (line: Line, values: (number | null)[]) => Column;

const unseen = (line: Line): uPlot.Series => ({ scale: scaleOf(line), stroke: 'transparent', width: 0, points: { show: false } });

function addBand(data: Data, line: Line, spread: Spread) {
  const edge = (sign: number) => spread(line, line.y.map((y, i) => y == null || line.half![i] == null ? null : y + sign * line.half![i]!));
  const first = data.columns.length;
  for (const sign of [1, -1]) {
    data.columns.push(edge(sign));
    data.series.push({ ...unseen(line), spanGaps: true });
  }
  data.bands.push({ series: [first, first + 1], fill: ink(line.ink) + '26' });
}

/* Unseen: the axis has to hold every bar, also of dots that share a place. */
function addReach(data: Data, line: Line, at: Map<number, number>) {
  for (const sign of [1, -1]) {
    const row: Column = new Array<number | null>(at.size).fill(null);
    line.x.forEach((value, i) => {
      const y = line.y[i], k = at.get(value)!;
      if (y != null) row[k] = sign * Math.max(sign * (y + sign * (line.half?.[i] ?? 0)), row[k] == null ? -Infinity : sign * row[k]!);
    });
    data.columns.push(row);
    data.series.push(unseen(line));
  }
}

function seriesOf(line: Line, many: boolean): uPlot.Series {
  const scale = scaleOf(line), colour = ink(line.ink), label = line.label;
  const back = line.pale ? Math.round(255 * (1 - 0.6 * line.pale)).toString(16).padStart(2, '0') : '';
  if (line.dots) return { label, scale, paths: () => null, points: { show: false } };
  if (line.faint) return { label, scale, paths: () => null, points: { show: true, size: 2.4, width: 0, fill: colour + '55' } };
  return { label, scale, stroke: colour + back, width: many || line.thin ? 1.3 : 2, ...(line.dash ? { dash: line.dash } : {}), points: { show: false }, spanGaps: true };
}

export function dataOf(lines: Line[], reach?: [number, number]): Data {
  const { x, at } = joined(lines, reach);
  const many = lines.filter((line) => !line.faint && !line.dots).length > FEW;
  const data: Data = { columns: [x], series: [{}], bands: [], drawn: [], many };
  const spread: Spread = (line, values) => {
    const row: Column = new Array<number | null>(x.length).fill(null);
    line.x.forEach((value, i) => { const k = at.get(value), y = values[i]; if (k != null) row[k] = y == null || !Number.isFinite(y) ? null : y; });
    return row;
  };
  for (const line of lines) {
    if (line.half && !line.dots && !many) addBand(data, line, spread);
    if (line.dots) addReach(data, line, at);
    if (!line.faint) data.drawn.push({ line, index: data.columns.length });
    data.columns.push(spread(line, line.y));
    data.series.push(seriesOf(line, many));
  }
  return data;
}
