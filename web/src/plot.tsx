/* One plot: lines with bands, labelled at the line, one cursor shared by all plots of a screen.
 *
 * Keyboard: left and right move the cursor, up and down choose a line, + and - zoom about it, 0 shows all,
 * Enter asks where a figure comes from. What stands under the cursor is also told in words. With many lines
 * only the one chosen, or nearest to the pointer, stands out and has its band. */
import { useLayoutEffect, useRef } from 'preact/hooks';
import { effect, signal, type Signal } from '@preact/signals';
import uPlot from 'uplot';
import { put } from './labels';
import { fixed } from './format';
import { drawManyNames, FEW, namesOfDots, pad } from './plot_names';

export interface Line {
  label: string;
  id?: number; /* what onPick is told: the pull */
  pale?: number; /* 0 to 1: how far back it stands among many */
  name?: string; /* short, at the line's end */
  atPeak?: boolean; /* the name stands at the highest point */
  x: number[];
  y: (number | null)[];
  half?: (number | null)[]; /* half-width of the band around it */
  ink: Ink;
  dash?: number[];
  faint?: boolean; /* raw samples: dots behind */
  dots?: boolean; /* measured points: a dot each, its half-width as an upright bar, its name beside it */
  names?: string[]; /* of the dots */
  decimals?: number;
  axis?: 'left' | 'right';
}
export type Ink = 'blue' | 'ochre' | 'green' | 'violet' | 'ink' | 'quiet';

/* Where a line has a point: the cursor's places; raw samples between them are not stepped through. */
const places = new WeakMap<uPlot, number[]>();
function placeOf(u: uPlot, i: number | null | undefined): number | null {
  const all = places.get(u);
  if (i == null || !all || all.length === 0) return null;
  const x = u.data[0], at = x[i]!;
  return all.reduce((best, k) => Math.abs(x[k]! - at) < Math.abs(x[best]! - at) ? k : best, all[0]!);
}

const theme = signal(0);
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { theme.value++; });
function ink(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue('--' + name).trim();
}

/* All lines on one x, as uPlot wants it. */
function joined(lines: Line[]): { x: number[]; at: Map<number, number> } {
  const all = new Set<number>();
  for (const line of lines) for (const x of line.x) all.add(x);
  const x = [...all].sort((a, b) => a - b);
  return { x, at: new Map(x.map((value, i) => [value, i])) };
}

export interface PlotProps {
  title: string;
  lines: Line[];
  height: number;
  xLabel: string;
  left: string;
  right?: string;
  sync?: string;
  gutter?: number;     /* room for the names at the lines' ends; 58 */
  zero?: boolean;      /* draw a line at zero */
  floor?: boolean;     /* the axis begins at zero */
  shade?: { low: number; high: number };
  marks?: { x: number; label: string }[]; /* upright lines with a word at the top */
  xDecimals?: number;
  onPick?: (x: number, id?: number) => void;
  onMove?: (x: number) => void;          /* the cursor went there by hand */
  follow?: Signal<number | null>;        /* the cursor goes where this says */
}

interface Top { line: Line; index: number }
const tops = new WeakMap<uPlot, Top[]>();
const chosenOf = (u: uPlot) => u.series.findIndex((s, i) => i > 0 && (s as { _focus?: boolean | null })._focus === true);

/* The line nearest to the pointer, at the cursor's place. */
function nearest(u: uPlot): Top | undefined {
  const i = placeOf(u, u.cursor.idx), at = u.cursor.top ?? -1;
  if (i == null || at < 0) return undefined;
  const away = ({ line, index }: Top) => { const y = u.data[index]![i]; return y == null ? Infinity : Math.abs(u.valToPos(y, line.axis === 'right' ? 'right' : 'left') - at); };
  return tops.get(u)?.filter((top) => !top.line.dots).reduce<Top | undefined>((best, top) => !best || away(top) < away(best) ? top : best, undefined);
}

function build(props: PlotProps, box: HTMLDivElement, readout: HTMLElement): uPlot {
  const { x, at } = joined(props.lines);
  const data: (number | null)[][] = [x];
  const series: uPlot.Series[] = [{}];
  const bands: uPlot.Band[] = [];
  const drawn: Top[] = [];
  const many = props.lines.filter((line) => !line.faint && !line.dots).length > FEW;
  const back = (line: Line) => line.pale ? Math.round(255 * (1 - 0.6 * line.pale)).toString(16).padStart(2, '0') : '';
  const spread = (line: Line, values: (number | null)[]) => {
    const row = new Array<number | null>(x.length).fill(null);
    line.x.forEach((value, i) => { row[at.get(value)!] = values[i] ?? null; });
    return row;
  };
  for (const line of props.lines) {
    const scale = line.axis === 'right' ? 'right' : 'left';
    const colour = ink(line.ink);
    if (line.half && !line.dots && !many) {
      const upper = line.y.map((y, i) => y == null || line.half![i] == null ? null : y + line.half![i]!);
      const lower = line.y.map((y, i) => y == null || line.half![i] == null ? null : y - line.half![i]!);
      const first = data.length;
      data.push(spread(line, upper), spread(line, lower));
      const none: uPlot.Series = { scale, width: 0, points: { show: false }, spanGaps: true };
      series.push({ ...none, stroke: 'transparent' }, { ...none, stroke: 'transparent' });
      bands.push({ series: [first, first + 1], fill: colour + '26' });
    }
    if (line.dots) { /* unseen: the axis has to hold every bar, also of dots that share a place */
      const reach = (sign: number) => {
        const row = new Array<number | null>(x.length).fill(null);
        line.x.forEach((value, i) => {
          const y = line.y[i], k = at.get(value)!;
          if (y != null) row[k] = sign * Math.max(sign * (y + sign * (line.half?.[i] ?? 0)), row[k] == null ? -Infinity : sign * row[k]!);
        });
        return row;
      };
      for (const sign of [1, -1]) { data.push(reach(sign)); series.push({ scale, stroke: 'transparent', width: 0, points: { show: false } }); }
    }
    const index = data.length;
    data.push(spread(line, line.y));
    series.push(line.dots
      ? { label: line.label, scale, paths: () => null, points: { show: false } }
      : line.faint
      ? { label: line.label, scale, paths: () => null, points: { show: true, size: 2.4, width: 0, fill: colour + '55' } }
      : { label: line.label, scale, stroke: colour + back(line), width: many ? 1.3 : 2, ...(line.dash ? { dash: line.dash } : {}), points: { show: false }, spanGaps: true });
    if (!line.faint) drawn.push({ line, index });
  }
  const quiet = ink('quiet'), rule = ink('rule');
  const font = '12px ' + getComputedStyle(document.body).fontFamily;
  const grid = { stroke: rule, width: 1 };
  const axis = (scale: string, label: string, side: number, show: boolean): uPlot.Axis =>
    ({ scale, label, side, stroke: quiet, font, labelFont: font, labelSize: 18, size: 54, grid: { ...grid, show }, ticks: { ...grid, size: 4 } });
  const outside = !props.lines.some((line) => line.axis === 'right');
  const lastOf = (u: uPlot, index: number) => { const row = u.data[index]!; for (let i = row.length - 1; i >= 0; i--) if (row[i] != null) return row[i]!; return 0; };
  const drawDots = (u: uPlot, line: Line) => {
    const c = u.ctx, ratio = devicePixelRatio;
    c.strokeStyle = c.fillStyle = ink(line.ink); c.lineWidth = 1.5 * ratio; c.textAlign = 'left'; c.textBaseline = 'bottom';
    const nameY = namesOfDots(u, line);
    line.x.forEach((x, i) => {
      const y = line.y[i], half = line.half?.[i];
      if (y == null) return;
      const px = u.valToPos(x, 'x', true), py = u.valToPos(y, 'left', true);
      if (half != null) {
        c.beginPath(); c.moveTo(px, u.valToPos(y - half, 'left', true)); c.lineTo(px, u.valToPos(y + half, 'left', true)); c.stroke();
      }
      c.beginPath(); c.arc(px, py, 4 * ratio, 0, 2 * Math.PI); c.fill();
      const outer = px > u.bbox.left + u.bbox.width - 40 * ratio;
      c.textAlign = outer ? 'right' : 'left';
      if (line.names?.[i]) c.fillText(line.names[i]!, px + (outer ? -7 : 7) * ratio, nameY[i]! - 3 * ratio);
    });
  };
  const drawUprights = (u: uPlot) => {
    const c = u.ctx, ratio = devicePixelRatio;
    (props.marks ?? []).forEach((mark, i) => {
      const px = u.valToPos(mark.x, 'x', true);
      if (px < u.bbox.left || px > u.bbox.left + u.bbox.width) return;
      c.strokeStyle = ink('ink'); c.lineWidth = ratio; c.setLineDash([4 * ratio, 4 * ratio]);
      c.beginPath(); c.moveTo(px, u.bbox.top); c.lineTo(px, u.bbox.top + u.bbox.height); c.stroke();
      c.setLineDash([]); c.fillStyle = ink('ink'); c.textBaseline = 'top';
      const right = px < u.bbox.left + u.bbox.width * 0.7;
      c.textAlign = right ? 'left' : 'right';
      c.fillText(mark.label, px + (right ? 5 : -5) * ratio, u.bbox.top + (4 + 16 * i) * ratio);
    });
  };
  const drawMany = (u: uPlot) => {
    const chosen = drawn.find(({ index }) => index === chosenOf(u));
    if (chosen?.line.half) {
      const { x, y, half } = chosen.line, c = u.ctx, known = x.map((_x, i) => i).filter((i) => y[i] != null && half[i] != null);
      const to = (i: number, sign: number) => c.lineTo(u.valToPos(x[i]!, 'x', true), u.valToPos(y[i]! + sign * half[i]!, 'left', true));
      c.save(); c.beginPath(); c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height); c.clip();
      c.beginPath(); known.forEach((i) => to(i, 1)); known.reverse().forEach((i) => to(i, -1)); c.closePath();
      c.fillStyle = ink(chosen.line.ink) + '33'; c.fill(); c.restore();
    }
    drawManyNames(u, drawn.filter((top) => !top.line.dots), chosen?.index ?? -1, ink);
  };
  const drawMarks = (u: uPlot) => {
    const c = u.ctx, ratio = devicePixelRatio;
    c.save();
    c.font = `600 ${12 * ratio}px ` + getComputedStyle(document.body).fontFamily;
    for (const { line } of drawn) if (line.dots) drawDots(u, line);
    drawUprights(u);
    if (props.zero) {
      const y = u.valToPos(0, 'left', true);
      c.strokeStyle = quiet; c.lineWidth = ratio; c.beginPath(); c.moveTo(u.bbox.left, y); c.lineTo(u.bbox.left + u.bbox.width, y); c.stroke();
    }
    c.font = `600 ${12 * ratio}px ` + getComputedStyle(document.body).fontFamily;
    c.textBaseline = 'middle'; c.textAlign = outside ? 'left' : 'right';
    if (many) { drawMany(u); c.restore(); return; }
    const taken: number[] = [];
    for (const { line, index } of drawn.filter((top) => !top.line.dots).sort((p, q) => lastOf(u, q.index) - lastOf(u, p.index))) {
      const row = u.data[index]!;
      let i = row.length - 1;
      const right = u.scales['x']!.max ?? Infinity;
      while (i > 0 && (row[i] == null || u.data[0][i]! > right)) i--;
      if (row[i] == null) continue;
      if (line.atPeak) for (let k = 0; k < row.length; k++) if (row[k] != null && row[k]! > row[i]!) i = k;
      const end = Math.min(u.valToPos(u.data[0][i]!, 'x', true), u.bbox.left + u.bbox.width);
      const text = line.name ?? line.label;
      let py = u.valToPos(row[i]!, line.axis === 'right' ? 'right' : 'left', true) - (outside ? 0 : 12 * ratio);
      while (taken.some((y) => Math.abs(y - py) < 14 * ratio)) py += 14 * ratio;
      py = Math.min(Math.max(py, u.bbox.top + 8 * ratio), u.bbox.top + u.bbox.height - 8 * ratio);
      taken.push(py);
      if (line.atPeak) py -= 11 * ratio;
      c.textAlign = line.atPeak ? 'center' : outside ? 'left' : 'right';
      const px = line.atPeak ? end : outside ? end + 7 * ratio : end - 8 * ratio;
      c.fillStyle = ink(line.ink);
      c.fillText(text, px, py);
    }
    c.restore();
  };
  const drawShade = (u: uPlot) => {
    if (!props.shade) return;
    const a = Math.max(u.valToPos(props.shade.low, 'x', true), u.bbox.left), b = Math.min(u.valToPos(props.shade.high, 'x', true), u.bbox.left + u.bbox.width);
    u.ctx.save(); u.ctx.fillStyle = ink('shade'); u.ctx.fillRect(a, u.bbox.top, b - a, u.bbox.height); u.ctx.restore();
  };
  const tellMany = (u: uPlot, i: number) => {
    const here = drawn.filter(({ index }) => u.data[index]![i] != null), chosen = here.find(({ index }) => index === chosenOf(u));
    const values = here.map(({ index }) => u.data[index]![i]!), decimals = here[0]?.line.decimals ?? 1;
    const one = chosen ? `${chosen.line.name ?? chosen.line.label} ${fixed(u.data[chosen.index]![i]!, decimals)}; ` : '';
    return `${fixed(u.data[0][i]!, props.xDecimals ?? 0)} ${props.xLabel}: ${one}${here.length} lines, ${fixed(Math.min(...values), decimals)} to ${fixed(Math.max(...values), decimals)}`;
  };
  const tell = (u: uPlot) => {
    const i = placeOf(u, u.cursor.idx);
    if (i == null) { readout.textContent = ''; return; }
    if (many) { readout.textContent = tellMany(u, i); return; }
    const parts = drawn.filter(({ index }) => u.data[index]![i] != null)
      .map(({ line, index }) => `${line.name ?? line.label} ${fixed(u.data[index]![i]!, line.decimals ?? 1)}`);
    readout.textContent = `${fixed(u.data[0][i]!, props.xDecimals ?? 0)} ${props.xLabel}: ${parts.join(', ')}`;
  };
  const range = (_u: uPlot, low: number | null, high: number | null): [number, number] => {
    if (low == null || high == null) return [0, 1];
    const pad = (high - low) * 0.08 || Math.abs(high) * 0.05 || 1;
    return [props.floor ? 0 : low - pad, high + pad * 1.4];
  };
  const hasRight = props.lines.some((line) => line.axis === 'right');
  const made = new uPlot({
    width: Math.max(box.clientWidth, 200),
    height: props.height,
    series, bands,
    scales: { x: { time: false }, left: { range }, ...(hasRight ? { right: { range } } : {}) },
    axes: [
      { scale: 'x', label: props.xLabel, stroke: quiet, font, labelFont: font, labelSize: 18, size: 34, grid, ticks: { ...grid, size: 4 } },
      axis('left', props.left, 3, true),
      ...(hasRight ? [axis('right', props.right ?? '', 1, false)] : []),
    ],
    legend: { show: false },
    padding: [8, hasRight ? 0 : many ? pad(drawn.map(({ line }) => line.name ?? line.label), props.height) : props.gutter ?? 58, 0, 0],
    focus: { alpha: many ? 0.3 : 0.45 },
    cursor: { focus: { prox: many ? 30 : -1 }, ...(props.sync ? { sync: { key: props.sync, scales: ['x', null] as [string, null] } } : {}), drag: { x: true, y: false }, points: { size: 7 } },
    hooks: { drawClear: [drawShade], draw: [drawMarks], setCursor: [tell], setSeries: [tell] },
  }, data as uPlot.AlignedData, box);
  tops.set(made, drawn);
  places.set(made, x.map((_x, i) => i).filter((i) => drawn.some(({ index }) => data[index]![i] != null)));
  return made;
}

/* Up and down go through the lines as they lie at the cursor. */
function choose(u: uPlot, i: number, by: number) {
  const here = (tops.get(u) ?? []).filter(({ line, index }) => !line.dots && !line.faint && u.data[index]![i] != null).sort((p, q) => u.data[q.index]![i]! - u.data[p.index]![i]!);
  const now = here.findIndex(({ index }) => index === chosenOf(u));
  const next = here[Math.min(Math.max(now < 0 ? 0 : now + by, 0), here.length - 1)];
  if (next) u.setSeries(next.index, { focus: true });
}

function steer(u: uPlot, event: KeyboardEvent, onPick?: PlotProps['onPick']) {
  const x = u.data[0], scale = u.scales['x']!;
  const low = scale.min ?? x[0]!, high = scale.max ?? x[x.length - 1]!;
  const all = places.get(u) ?? [];
  let i = placeOf(u, u.cursor.idx) ?? all[Math.floor(all.length / 2)] ?? 0;
  const step = (by: number) => all[Math.min(Math.max(all.indexOf(i) + by, 0), all.length - 1)] ?? 0;
  const move = (to: number) => {
    i = to;
    const chosen = tops.get(u)?.find(({ index }) => index === chosenOf(u)), y = chosen && u.data[chosen.index]![i];
    u.setCursor({ left: u.valToPos(x[i]!, 'x'), top: chosen && y != null ? u.valToPos(y, chosen.line.axis === 'right' ? 'right' : 'left') : u.over.clientHeight / 2 });
    if (chosen) u.setSeries(chosen.index, { focus: true });
  };
  const zoom = (factor: number) => {
    const middle = x[i]!;
    u.setScale('x', { min: middle - (middle - low) * factor, max: middle + (high - middle) * factor });
  };
  switch (event.key) {
    case 'ArrowLeft': move(step(event.shiftKey ? -10 : -1)); break;
    case 'ArrowRight': move(step(event.shiftKey ? 10 : 1)); break;
    case 'Home': move(all[0] ?? 0); break;
    case 'End': move(all[all.length - 1] ?? 0); break;
    case '+': case '=': zoom(0.6); break;
    case '-': zoom(1 / 0.6); break;
    case '0': u.setScale('x', { min: x[0]!, max: x[x.length - 1]! }); break;
    case 'ArrowUp': choose(u, i, -1); break;
    case 'ArrowDown': choose(u, i, 1); break;
    case 'Escape': u.setSeries(null, { focus: true }); break;
    case 'Enter': onPick?.(x[i]!, tops.get(u)?.find(({ index }) => index === chosenOf(u))?.line.id); break;
    default: return;
  }
  event.preventDefault();
}

function tellMoved(u: uPlot | null, onMove?: (x: number) => void) {
  const i = u && placeOf(u, u.cursor.idx);
  if (u && i != null) onMove?.(u.data[0][i]!);
}

/* What is drawn and not made of elements is worded here. */
function worded(props: PlotProps): PlotProps {
  return { ...props, xLabel: put(props.xLabel), ...(props.left ? { left: put(props.left) } : {}), ...(props.right ? { right: put(props.right) } : {}),
    lines: props.lines.map((line) => ({ ...line, label: put(line.label), ...(line.name ? { name: put(line.name) } : {}) })),
    ...(props.marks ? { marks: props.marks.map((mark) => ({ ...mark, label: put(mark.label) })) } : {}) };
}

export function Plot(props: PlotProps) {
  const box = useRef<HTMLDivElement>(null);
  const readout = useRef<HTMLParagraphElement>(null);
  const plot = useRef<uPlot | null>(null);
  useLayoutEffect(() => { /* drawn in the same frame as what stands around it */
    const element = box.current!;
    const stop = effect(() => {
      void theme.value;
      plot.current?.destroy();
      plot.current = build(worded(props), element, readout.current!);
      element.dataset['lines'] = props.lines.map((line) => line.name ?? '').join();
      let moved = false;
      const over = plot.current.over;
      over.addEventListener('pointermove', () => tellMoved(plot.current, props.onMove));
      over.addEventListener('mousedown', () => { moved = false; });
      over.addEventListener('mousemove', (e) => { if (e.buttons) moved = true; });
      over.addEventListener('click', () => {
        const i = plot.current && placeOf(plot.current, plot.current.cursor.idx);
        if (!moved && i != null) props.onPick?.(plot.current!.data[0][i]!, nearest(plot.current!)?.line.id);
      });
    });
    const unfollow = props.follow && effect(() => {
      const x = props.follow!.value, u = plot.current;
      if (u && x != null) u.setCursor({ left: u.valToPos(x, 'x'), top: u.over.clientHeight / 2 });
    });
    const watch = new ResizeObserver(() => {
      const width = element.clientWidth;
      if (plot.current && width > 0 && Math.abs(plot.current.width - width) > 1) plot.current.setSize({ width, height: props.height });
    });
    watch.observe(element);
    return () => { watch.disconnect(); unfollow?.(); stop(); plot.current?.destroy(); plot.current = null; };
  }, [props.lines, props.height, props.left, props.right, props.xLabel, props.shade?.low, props.shade?.high, props.marks]);
  return (
    <figure class="plot">
      <figcaption>{props.title}</figcaption>
      <div ref={box} class="plot-box" tabIndex={0} role="group" aria-roledescription="plot" aria-label={`${props.title}. Left and right move the cursor, up and down choose a line, plus and minus zoom, 0 shows all${props.onPick ? ', Enter asks where the figure comes from' : ''}.`}
        onKeyDown={(event) => { if (plot.current) { steer(plot.current, event, props.onPick); tellMoved(plot.current, props.onMove); } }} />
      <p ref={readout} class="readout" aria-live="polite" />
    </figure>
  );
}
