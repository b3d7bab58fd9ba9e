/* What a plot draws besides uPlot's lines: the shaded range, upright marks, dots with their bars, the line at zero,
 * the names at the lines' ends, the band of the one line that stands out among many. */
import type uPlot from 'uplot';
import { drawManyNames, namesOfDots } from './plot_names';
import { chosenOf, pinOf } from './plot_cursor';
import { outline, places } from './plot_marks';
import { dots, ink, LETTER, nameOf, scaleOf, type Drawn, type Line, type PlotProps } from './plot_line';

export const fontOf = (size: number, weight = '') => `${weight} ${size}px ${getComputedStyle(document.body).fontFamily}`.trim();

export function drawShade(u: uPlot, shade: PlotProps['shade']) {
  if (!shade) return;
  const a = Math.max(u.valToPos(shade.low, 'x', true), u.bbox.left), b = Math.min(u.valToPos(shade.high, 'x', true), u.bbox.left + u.bbox.width);
  u.ctx.save(); u.ctx.fillStyle = ink('shade'); u.ctx.fillRect(a, u.bbox.top, b - a, u.bbox.height); u.ctx.restore();
}

function drawDots(u: uPlot, line: Line) {
  const c = u.ctx, dot = dots();
  c.strokeStyle = c.fillStyle = ink(line.ink); c.lineWidth = 1.5 * dot; c.textBaseline = 'bottom';
  const nameY = namesOfDots(u, line);
  line.x.forEach((x, i) => {
    const y = line.y[i], half = line.half?.[i];
    if (y == null) return;
    const px = u.valToPos(x, 'x', true), py = u.valToPos(y, 'left', true);
    if (half != null) {
      c.beginPath(); c.moveTo(px, u.valToPos(y - half, 'left', true)); c.lineTo(px, u.valToPos(y + half, 'left', true)); c.stroke();
    }
    c.beginPath(); c.arc(px, py, 4 * dot, 0, 2 * Math.PI); c.fill();
    const outer = px > u.bbox.left + u.bbox.width - 40 * dot;
    c.textAlign = outer ? 'right' : 'left';
    if (line.names?.[i]) c.fillText(line.names[i]!, px + (outer ? -7 : 7) * dot, nameY[i]! - 3 * dot);
  });
}

function drawUprights(u: uPlot, marks: PlotProps['marks']) {
  const c = u.ctx, dot = dots();
  (marks ?? []).forEach((mark, i) => {
    const px = u.valToPos(mark.x, 'x', true);
    if (px < u.bbox.left || px > u.bbox.left + u.bbox.width) return;
    c.strokeStyle = ink('ink'); c.lineWidth = dot; c.setLineDash([4 * dot, 4 * dot]);
    c.beginPath(); c.moveTo(px, u.bbox.top); c.lineTo(px, u.bbox.top + u.bbox.height); c.stroke();
    c.setLineDash([]); c.fillStyle = ink('ink'); c.textBaseline = 'top';
    const right = px < u.bbox.left + u.bbox.width * 0.7;
    c.textAlign = right ? 'left' : 'right';
    c.fillText(mark.label, px + (right ? 5 : -5) * dot, u.bbox.top + (4 + 16 * i) * dot);
  });
}

function drawPin(u: uPlot) {
  const i = pinOf(u);
  if (i == null) return;
  const c = u.ctx, dot = dots(), px = u.valToPos(u.data[0][i]!, 'x', true);
  if (px < u.bbox.left || px > u.bbox.left + u.bbox.width) return;
  c.strokeStyle = c.fillStyle = ink('violet'); c.lineWidth = 1.5 * dot;
  c.beginPath(); c.moveTo(px, u.bbox.top); c.lineTo(px, u.bbox.top + u.bbox.height); c.stroke();
  c.beginPath(); c.arc(px, u.bbox.top + 4 * dot, 4 * dot, 0, 2 * Math.PI); c.fill();
}

function drawZero(u: uPlot) {
  const c = u.ctx, y = u.valToPos(0, 'left', true);
  if (y < u.bbox.top || y > u.bbox.top + u.bbox.height) return;
  c.strokeStyle = ink('quiet'); c.lineWidth = devicePixelRatio;
  c.beginPath(); c.moveTo(u.bbox.left, y); c.lineTo(u.bbox.left + u.bbox.width, y); c.stroke();
}

function drawChosenBand(u: uPlot, line: Line) {
  if (!line.half) return;
  const { x, y, half } = line, c = u.ctx, known = x.map((_x, i) => i).filter((i) => y[i] != null && half[i] != null);
  const to = (i: number, sign: number) => c.lineTo(u.valToPos(x[i]!, 'x', true), u.valToPos(y[i]! + sign * half[i]!, scaleOf(line), true));
  c.save(); c.beginPath(); c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height); c.clip();
  c.beginPath(); known.forEach((i) => to(i, 1)); known.reverse().forEach((i) => to(i, -1)); c.closePath();
  c.fillStyle = ink(line.ink) + '33'; c.fill(); c.restore();
}

const lastOf = (row: ArrayLike<number | null | undefined>) => { for (let i = row.length - 1; i >= 0; i--) if (row[i] != null) return row[i]!; return 0; };

/* The point of a line that its name stands at: its end in what is seen, or its top. */
function namedPoint(u: uPlot, { line, index }: Drawn): number | null {
  const row = u.data[index]!, right = u.scales['x']!.max ?? Infinity;
  let i = row.length - 1;
  while (i > 0 && (row[i] == null || u.data[0][i]! > right)) i--;
  if (row[i] == null) return null;
  if (line.atPeak) for (let k = 0; k < row.length; k++) if (row[k] != null && row[k]! > row[i]!) i = k;
  return i;
}

interface Spot { x: number; y: number; align: CanvasTextAlign }

/* Names beside the lines' ends where the right side is free; else left of the end, above a line that climbs and below
 * one that falls, since that is where it is not; or over the top. */
function spotOf(u: uPlot, { line, index }: Drawn, i: number, outside: boolean): Spot {
  const dot = dots(), row = u.data[index]!, yAt = (k: number) => u.valToPos(row[k]!, scaleOf(line), true), xAt = (k: number) => u.valToPos(u.data[0][k]!, 'x', true);
  const end = Math.min(xAt(i), u.bbox.left + u.bbox.width), y = yAt(i);
  if (line.atPeak) return { x: end, y: y - 11 * dot, align: 'center' };
  if (outside) return { x: end + 7 * dot, y, align: 'left' };
  let k = i;
  while (k > 0 && (row[k] == null || xAt(k) > end - 60 * dot)) k--;
  const falls = row[k] != null && y - yAt(k) > 6 * dot;
  return { x: end - 8 * dot, y: y + (falls ? 16 : -12) * dot, align: 'right' };
}

/* Whether a name at `x` would stand among what the uprights are called, at the top of the plot. */
const underMarks = (u: uPlot, marks: PlotProps['marks'], x: number) => (marks ?? []).some((mark) => Math.abs(u.valToPos(mark.x, 'x', true) - x) < u.ctx.measureText(mark.label).width + 20 * dots());

/* From the highest downwards, none over another; what would leave the plot at its foot pushes those above it up. */
function drawFewNames(u: uPlot, drawn: Drawn[], outside: boolean, marks: PlotProps['marks']) {
  const c = u.ctx, dot = dots(), row = 14 * dot, foot = u.bbox.top + u.bbox.height - 8 * dot, names: { top: Drawn; spot: Spot }[] = [];
  const beside = (p: Spot, q: Spot) => Math.abs(p.x - q.x) < 80 * dot;
  for (const top of [...drawn].sort((p, q) => lastOf(u.data[q.index]!) - lastOf(u.data[p.index]!))) {
    const i = namedPoint(u, top);
    if (i == null) continue;
    const spot = spotOf(u, top, i, outside);
    spot.y = Math.max(spot.y, u.bbox.top + (underMarks(u, marks, spot.x) ? 12 + 16 * (marks?.length ?? 0) : 8) * dot);
    while (names.some((other) => beside(other.spot, spot) && Math.abs(other.spot.y - spot.y) < 0.99 * row)) spot.y += row;
    names.push({ top, spot });
  }
  const placed: Spot[] = [];
  for (const { spot } of [...names].sort((p, q) => q.spot.y - p.spot.y)) {
    spot.y = Math.min(spot.y, foot);
    for (const lower of placed) if (beside(lower, spot)) spot.y = Math.min(spot.y, lower.y - row);
    placed.push(spot);
  }
  for (const { top, spot } of names) {
    c.textAlign = spot.align;
    c.fillStyle = ink(top.line.ink);
    c.fillText(nameOf(top.line), spot.x, spot.y);
  }
}

function drawMarkers(u: uPlot, drawn: Drawn[]) {
  const c = u.ctx, dot = dots(), low = u.scales['x']!.min ?? 0, high = u.scales['x']!.max ?? 1;
  c.save(); c.beginPath(); c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height); c.clip(); c.setLineDash([]);
  for (const { line, index } of drawn) {
    if (line.marker == null || line.thin) continue;
    const { points, full } = outline(line.marker), row = u.data[index]!, size = 3.6 * dot;
    c.strokeStyle = ink(line.ink); c.fillStyle = ink(full ? line.ink : 'card'); c.lineWidth = 1.4 * dot;
    for (const i of places(u.data[0], row, low, high, line.marker)) {
      const px = u.valToPos(u.data[0][i]!, 'x', true), py = u.valToPos(row[i]!, scaleOf(line), true);
      c.beginPath(); points.forEach(([x, y], k) => { if (k) c.lineTo(px + size * x, py + size * y); else c.moveTo(px + size * x, py + size * y); }); c.closePath();
      c.fill(); c.stroke();
    }
  }
  c.restore();
}

export function drawMarks(u: uPlot, props: PlotProps, drawn: Drawn[], many: boolean) {
  const c = u.ctx, lines = drawn.filter(({ line }) => !line.dots);
  c.save();
  c.font = fontOf(LETTER * dots(), '600');
  for (const { line } of drawn) if (line.dots) drawDots(u, line);
  drawUprights(u, props.marks);
  drawPin(u);
  if (props.zero) drawZero(u);
  if (!many) drawMarkers(u, lines);
  c.textBaseline = 'middle';
  if (many) {
    const chosen = drawn.find(({ index }) => index === chosenOf(u));
    if (chosen) drawChosenBand(u, chosen.line);
    u.root.dataset['band'] = chosen ? nameOf(chosen.line) : '';
    drawManyNames(u, lines, chosen?.index ?? -1);
  } else {
    drawFewNames(u, lines, !props.lines.some((line) => line.axis === 'right'), props.marks);
  }
  c.restore();
}
