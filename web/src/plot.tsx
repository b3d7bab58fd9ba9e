/* One plot: lines with bands, labelled at the line, one cursor shared by all plots of a screen.
 *
 * Keyboard: left and right move the cursor, up and down choose a line, + and - zoom about it, 0 shows all,
 * p puts a pin (what is told is told against it, too), Enter asks where a figure comes from. Wheel, pinch, box and drag: plot_move.ts. What stands under the cursor is also told in words. With many lines
 * only the one chosen, or nearest to the pointer, stands out and has its band. */
import { useLayoutEffect, useRef } from 'preact/hooks';
import { effect } from '@preact/signals';
import uPlot from 'uplot';
import { fixed } from './format';
import { put } from './labels';
import { chosenOf, knowOf, nearest, pin, pinNear, placeOf, steer, told } from './plot_cursor';
import { dataOf } from './plot_data';
import { drawMarks, drawShade, fontOf } from './plot_draw';
import { cursorOf, letLook, lookAt, setY, type Look } from './plot_move';
import { growth, ink, LETTER, nameOf, theme, type PlotProps } from './plot_line';
import { pad } from './plot_names';
import { Take } from './plot_take';
import { t } from './words';

export type { Line } from './plot_line';

/* As many decimals as the step of the axis has, and a minus that is one. */
function figures(_u: uPlot, splits: number[], _axis: number, _space: number, step: number): string[] {
  const decimals = (String(Number(step.toPrecision(6))).split('.')[1] ?? '').length;
  return splits.map((value) => value == null ? '' : fixed(value, decimals));
}

function axesOf(props: PlotProps, hasRight: boolean): uPlot.Axis[] {
  const scale = growth(), font = fontOf(LETTER * scale), stroke = ink('quiet'), grid = { stroke: ink('rule'), width: 1 };
  const all = { stroke, font, labelFont: font, labelSize: 18 * scale, gap: 5 * scale, labelGap: 0, values: figures, ticks: { ...grid, size: 4 * scale } };
  const upright = (of: string, label: string, side: number, show: boolean): uPlot.Axis => ({ ...all, scale: of, label, side, size: 54 * scale, space: 30 * scale, grid: { ...grid, show } });
  return [
    { ...all, scale: 'x', label: props.xLabel, size: 34 * scale, space: 50 * scale, grid },
    upright('left', props.left, 3, true),
    ...(hasRight ? [upright('right', props.right ?? '', 1, false)] : []),
  ];
}

function build(props: PlotProps, box: HTMLDivElement, readout: HTMLElement): uPlot {
  const { columns, series, bands, drawn, many } = dataOf(props.lines, props.reach), scale = growth();
  const hasRight = props.lines.some((line) => line.axis === 'right');
  const own: Look = { y: props.seen?.y ?? null };
  const range = (_u: uPlot, low: number | null, high: number | null, axis: string): [number, number] => {
    if (own.y && axis === 'left') return own.y;
    if (low == null || high == null) return [0, 1];
    const room = (high - low) * 0.08 || Math.abs(high) * 0.05 || 1;
    const least = props.zero ? Math.min(low, 0) : low, most = props.zero ? Math.max(high, 0) : high;
    return [props.floor ? 0 : least - room, most + room * 1.4];
  };
  const tell = (u: uPlot) => { const i = placeOf(u); readout.textContent = told(u, props, drawn, many) + (i == null ? '' : props.over?.peek()?.says(u.data[0][i]!) ?? ''); };
  let band = -1; /* whose was drawn last */
  /* uPlot swallows a redraw that is asked for while it draws, as when a zoom brings another line under the pointer: it is asked for after. */
  const again = (u: uPlot) => { tell(u); queueMicrotask(() => { if (many && band !== chosenOf(u) && u.root.isConnected) u.redraw(false); }); };
  const made = new uPlot({
    width: Math.max(box.clientWidth, 200),
    height: props.height * scale,
    series, bands,
    scales: { x: { time: false }, left: { range }, ...(hasRight ? { right: { range } } : {}) },
    axes: axesOf(props, hasRight),
    legend: { show: false },
    padding: [8, hasRight ? 0 : scale * (many ? pad(drawn.map(({ line }) => nameOf(line)), props.height) : props.gutter ?? 58), 0, 0],
    focus: { alpha: many ? 0.3 : 0.45 },
    cursor: { ...cursorOf(), focus: { prox: many ? 30 : -1 }, ...(props.sync ? { sync: { key: props.sync, scales: ['x', null] as [string, null] } } : {}), points: { size: 7 } },
    hooks: { drawClear: [(u) => drawShade(u, props.shade)], draw: [(u) => { band = chosenOf(u); drawMarks(u, props, drawn, many); props.over?.peek()?.draw(u); }], setCursor: [tell], setSeries: [again] },
  }, columns as uPlot.AlignedData, box);
  made.root.ariaHidden = 'true'; /* its box has the name, the line below says it in words */
  knowOf(made, drawn);
  if (props.pinned != null) pinNear(made, props.pinned);
  letLook(made, own, props);
  return made;
}

function tellMoved(u: uPlot | null, onMove?: (x: number) => void) {
  const i = u && placeOf(u);
  if (u && i != null) onMove?.(u.data[0][i]!);
}

/* The pointer's moves and clicks; a drag zooms and is no click. */
function listenTo(u: uPlot, props: PlotProps) {
  let moved = false;
  u.over.addEventListener('pointermove', () => tellMoved(u, props.onMove));
  u.over.addEventListener('mousedown', () => { moved = false; });
  u.over.addEventListener('mousemove', (e) => { if (e.buttons) moved = true; });
  u.over.addEventListener('click', () => {
    const i = placeOf(u);
    if (!moved && i != null) props.onPick?.(u.data[0][i]!, nearest(u)?.line.id);
  });
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
      listenTo(plot.current, props);
    });
    const unfollow = props.follow && effect(() => {
      const x = props.follow!.value, u = plot.current;
      if (u && x != null) u.setCursor({ left: u.valToPos(x, 'x'), top: u.over.clientHeight / 2 });
    });
    const unlay = props.over && effect(() => { void props.over!.value; plot.current?.redraw(false); });
    let letters = growth();
    const watch = new ResizeObserver(() => {
      const width = element.clientWidth;
      if (growth() !== letters) { letters = growth(); theme.value++; return; } /* a window that became a wall */
      if (plot.current && width > 0 && Math.abs(plot.current.width - width) > 1) plot.current.setSize({ width, height: plot.current.height });
    });
    watch.observe(element);
    return () => { watch.disconnect(); unfollow?.(); unlay?.(); stop(); plot.current?.destroy(); plot.current = null; };
  }, [props.lines, props.height, props.left, props.right, props.xLabel, props.shade?.low, props.shade?.high, props.marks, props.reach?.[0], props.reach?.[1]]);
  useLayoutEffect(() => { if (plot.current && props.want) lookAt(plot.current, props.want); }, [props.want]);
  return (
    <figure class="plot">
      <figcaption>{props.head ? <><span class="unseen">{put(props.title)}</span>{props.head}</> : put(props.title)}{props.take && <Take of={() => plot.current} props={worded(props)} title={put(props.title)} onPin={() => { if (plot.current) pin(plot.current); }} />}</figcaption>
      <div ref={box} class="plot-box" tabIndex={0} role="group" aria-roledescription="plot" aria-label={props.onPick ? t('{title}. Left and right move the cursor, up and down choose a line, plus and minus zoom, 0 shows all, p puts a pin, Enter asks where the figure comes from.', { title: put(props.title) })
          : t('{title}. Left and right move the cursor, up and down choose a line, plus and minus zoom, 0 shows all, p puts a pin.', { title: put(props.title) })}
        onKeyDown={(event) => { if (plot.current) { steer(plot.current, event, (u) => { setY(u, null); }, props.onPick); tellMoved(plot.current, props.onMove); } }} />
      <p ref={readout} class="readout" aria-live="polite" />
    </figure>
  );
}
