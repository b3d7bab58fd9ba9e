/* What is seen of a plot, to be taken along: its picture as it stands (PNG), a drawing (SVG), its figures in the range that is seen as comma-separated values
 * (RFC 4180; a column a line, its half-width behind it, figures as they are shown, with a decimal point in every language). */
import type uPlot from 'uplot';
import { complain, say } from './state';
import { ink, type PlotProps } from './plot_line';
import { t } from './words';

function save(blob: Blob, name: string) {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

const cell = (text: string) => /[",\n\r]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;

/** Exported for its test. A place that no line has a point at is left out. */
export function tableOf(props: PlotProps, low: number, high: number): string {
  const lines = props.lines.filter((line) => !line.faint);
  const places = [...new Set(lines.flatMap((line) => line.x))].filter((x) => x >= low && x <= high).sort((a, b) => a - b);
  const unit = (line: PlotProps['lines'][number]) => line.axis === 'right' ? props.right ?? '' : props.left;
  const head = [props.xLabel, ...lines.flatMap((line) => [`${line.label} [${unit(line)}]`, ...(line.half ? [`${line.label} ± [${unit(line)}]`] : [])])];
  const rows = places.map((x) => [String(x), ...lines.flatMap((line) => {
    const i = line.x.indexOf(x), y = i < 0 ? null : line.y[i], half = i < 0 ? null : line.half?.[i], decimals = (line.decimals ?? 1) + 1;
    return [y == null ? '' : y.toFixed(decimals), ...(line.half ? [half == null ? '' : half.toFixed(decimals)] : [])];
  })]);
  return [head, ...rows].map((row) => row.map(cell).join(',')).join('\r\n') + '\r\n';
}

/* On the page's own ground, with the title: uPlot's canvas is clear behind the lines. */
function pictureOf(u: uPlot, title: string): Promise<Blob | null> {
  const from = u.ctx.canvas, canvas = document.createElement('canvas'), head = Math.round(30 * devicePixelRatio), c = canvas.getContext('2d')!;
  canvas.width = from.width;
  canvas.height = from.height + head;
  c.fillStyle = ink('card'); c.fillRect(0, 0, canvas.width, canvas.height);
  c.fillStyle = ink('ink'); c.font = `600 ${14 * devicePixelRatio}px ${getComputedStyle(document.body).fontFamily}`; c.textBaseline = 'middle';
  c.fillText(title, 10 * devicePixelRatio, head / 2);
  c.drawImage(from, 0, head);
  return new Promise((done) => canvas.toBlob(done, 'image/png'));
}

export function Take({ of, props, title, onPin }: { of: () => uPlot | null; props: PlotProps; title: string; onPin: () => void }) {
  const name = props.take ?? 'curves';
  const csv = () => {
    const scale = of()?.scales['x'];
    save(new Blob([tableOf(props, scale?.min ?? -Infinity, scale?.max ?? Infinity)], { type: 'text/csv' }), name + '.csv');
  };
  const png = (copy: boolean) => {
    const u = of();
    if (!u) return;
    void pictureOf(u, title).then(async (blob) => {
      if (!blob) return;
      if (!copy) { save(blob, name + '.png'); return; }
      await navigator.clipboard.write([new ClipboardItem({ 'image/png': blob })]);
      say(t('The picture is on the clipboard.'));
    }).catch(complain);
  };
  return (
    <span class="take">
      <button type="button" class="plain" onClick={onPin}>Pin</button>
      <button type="button" class="plain" onClick={csv}>CSV</button>
      <button type="button" class="plain" onClick={() => png(false)}>PNG</button>
      <button type="button" class="plain" onClick={() => { void import('./more').then((more) => { const u = of(); if (u) save(new Blob([more.drawingOf(u, props, title)], { type: 'image/svg+xml' }), name + '.svg'); }, complain); }}>SVG</button>
      {typeof ClipboardItem !== 'undefined' && <button type="button" class="plain" onClick={() => png(true)}>Copy picture</button>}
    </span>
  );
}
