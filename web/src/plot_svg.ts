/* What is seen of a plot as a drawing (SVG 1.1, W3C): lines, bands, marks, axes and names as on the screen, in the light colours of paper. */
import type uPlot from 'uplot';
import { fixed } from './format';
import { nameOf, scaleOf, type Ink, type Line, type PlotProps } from './plot_line';
import { outline, places } from './plot_marks';

const INKS: Record<Ink, string> = { blue: '#0d4577', ochre: '#9a5206', green: '#1a6b54', violet: '#6a3d8a', ink: '#15181c', quiet: '#5a5f66' };
const LEFT = 64, RIGHT = 70, TOP = 34, BOTTOM = 44;

const safe = (text: string) => text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');
const at = (value: number) => String(Math.round(value * 100) / 100);

/** Steps of 1, 2 or 5 times a power of ten, some six over the range. */
export function steps(low: number, high: number): number[] {
  const rough = (high - low) / 6, power = 10 ** Math.floor(Math.log10(rough)), step = [1, 2, 5, 10].map((f) => f * power).find((s) => s >= rough) ?? rough;
  const found: number[] = [];
  if (!(step > 0) || !Number.isFinite(step)) return found;
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k++) found.push(k * step);
  return found;
}
const decimalsOf = (all: number[]) => all.length < 2 ? 0 : Math.max(0, -Math.floor(Math.log10(Math.abs(all[1]! - all[0]!)) + 1e-9));

interface Frame { x: (v: number) => number; y: (axis: 'left' | 'right', v: number) => number; width: number; height: number; low: number; high: number; scale: (axis: 'left' | 'right') => [number, number] | null }
function frameOf(u: uPlot): Frame {
  const width = Math.max(u.over.clientWidth, 100), height = Math.max(u.over.clientHeight, 60), { min: low = 0, max: high = 1 } = u.scales['x'] as { min: number; max: number };
  const scale = (axis: 'left' | 'right'): [number, number] | null => { const s = u.scales[axis]; return s?.min == null || s.max == null ? null : [s.min, s.max]; };
  const y = (axis: 'left' | 'right', v: number) => { const [a, b] = scale(axis) ?? [0, 1]; return TOP + height * (1 - (v - a) / (b - a)); };
  return { x: (v) => LEFT + width * (v - low) / (high - low), y, width, height, low, high, scale };
}

const text = (x: number, y: number, says: string, more = '') => `<text x="${at(x)}" y="${at(y)}" ${more}>${safe(says)}</text>`;
function axes(f: Frame, props: PlotProps): string[] {
  const across = steps(f.low, f.high), out: string[] = [];
  for (const v of across) out.push(`<path d="M${at(f.x(v))} ${TOP}v${at(f.height)}" stroke="#dedcd5" fill="none"/>`, text(f.x(v), TOP + f.height + 16, fixed(v, decimalsOf(across)), 'text-anchor="middle"'));
  for (const axis of ['left', 'right'] as const) {
    const scale = f.scale(axis), all = scale ? steps(...scale) : [], left = axis === 'left', unit = left ? props.left : props.right ?? '';
    for (const v of all) {
      if (left) out.push(`<path d="M${LEFT} ${at(f.y(axis, v))}h${at(f.width)}" stroke="#dedcd5" fill="none"/>`);
      out.push(text(left ? LEFT - 6 : LEFT + f.width + 6, f.y(axis, v) + 4, fixed(v, decimalsOf(all)), `text-anchor="${left ? 'end' : 'start'}"`));
    }
    if (all.length) out.push(text(left ? LEFT - 6 : LEFT + f.width + 6, TOP - 8, unit, `text-anchor="${left ? 'end' : 'start'}"`));
  }
  out.push(text(LEFT + f.width / 2, TOP + f.height + 36, props.xLabel, 'text-anchor="middle"'));
  return out;
}

const pathOf = (f: Frame, line: Line, values: (number | null)[]) => {
  let pen = 'M';
  return line.x.map((x, i) => { const y = values[i]; if (y == null || !Number.isFinite(y)) return ''; const one = `${pen}${at(f.x(x))} ${at(f.y(scaleOf(line), y))}`; pen = 'L'; return one; }).join('');
};
function bandOf(f: Frame, line: Line): string {
  const known = line.x.map((_x, i) => i).filter((i) => line.y[i] != null && line.half?.[i] != null);
  const point = (i: number, sign: number) => `${at(f.x(line.x[i]!))} ${at(f.y(scaleOf(line), line.y[i]! + sign * line.half![i]!))}`;
  if (known.length < 2) return '';
  return `<path d="M${[...known.map((i) => point(i, 1)), ...known.reverse().map((i) => point(i, -1))].join('L')}Z" fill="${INKS[line.ink]}" fill-opacity=".15"/>`;
}
function lineOf(f: Frame, line: Line): string {
  const colour = INKS[line.ink];
  if (line.faint) return line.x.map((x, i) => line.y[i] == null ? '' : `<circle cx="${at(f.x(x))}" cy="${at(f.y(scaleOf(line), line.y[i]!))}" r="1.2" fill="${colour}" fill-opacity=".4"/>`).join('');
  const dash = line.dash?.length ? ` stroke-dasharray="${line.dash.join(' ')}"` : '';
  const one = `<path d="${pathOf(f, line, line.y)}" fill="none" stroke="${colour}" stroke-width="${line.thin ? 1.3 : 2}"${dash}${line.pale ? ` stroke-opacity="${at(1 - 0.6 * line.pale)}"` : ''}/>`;
  if (line.marker == null || line.thin) return one;
  const { points, full } = outline(line.marker);
  return one + places(line.x, line.y, f.low, f.high, line.marker).map((i) => `<path d="M${points.map(([x, y]) => `${at(f.x(line.x[i]!) + 3.6 * x)} ${at(f.y(scaleOf(line), line.y[i]!) + 3.6 * y)}`).join('L')}Z" fill="${full ? colour : '#fff'}" stroke="${colour}" stroke-width="1.4"/>`).join('');
}
/* The last point that is seen, with the name beside it; names keep apart, and within the plot. */
function names(f: Frame, lines: Line[]): string[] {
  const ends = lines.filter((line) => !line.faint && !line.dots).flatMap((line) => {
    let i = line.x.length - 1;
    while (i >= 0 && (line.y[i] == null || line.x[i]! > f.high || line.x[i]! < f.low)) i--;
    return i < 0 ? [] : [{ line, y: f.y(scaleOf(line), line.y[i]!) }];
  }).sort((p, q) => p.y - q.y);
  const right = f.scale('right') != null, rows = ends.map(({ y }) => y);
  for (let k = 1; k < rows.length; k++) rows[k] = Math.max(rows[k]!, rows[k - 1]! + 13);
  for (let k = rows.length - 1, foot = TOP + f.height - 4; k >= 0; foot = rows[k--]! - 13) rows[k] = Math.min(rows[k]!, foot);
  return ends.map(({ line }, k) => { const last = rows[k]!; return text(right ? LEFT + f.width - 6 : LEFT + f.width + 6, last + (right ? -4 : 4), nameOf(line), `fill="${INKS[line.ink]}" font-weight="600" text-anchor="${right ? 'end' : 'start'}"`); });
}

export function drawingOf(u: uPlot, props: PlotProps, title: string): string {
  const f = frameOf(u), lines = props.lines.filter((line) => !line.dots);
  const zero = props.zero ? [`<path d="M${LEFT} ${at(f.y('left', 0))}h${at(f.width)}" stroke="#5a5f66"/>`] : [];
  const shade = props.shade ? [`<rect x="${at(f.x(Math.max(props.shade.low, f.low)))}" y="${TOP}" width="${at(Math.max(f.x(Math.min(props.shade.high, f.high)) - f.x(Math.max(props.shade.low, f.low)), 0))}" height="${at(f.height)}" fill="#0d4577" fill-opacity=".05"/>`] : [];
  const marks = (props.marks ?? []).filter((m) => m.x >= f.low && m.x <= f.high).map((m) => `<path d="M${at(f.x(m.x))} ${TOP}v${at(f.height)}" stroke="#15181c" stroke-dasharray="4 4"/>` + text(f.x(m.x) + 5, TOP + 14, m.label));
  const notes = (props.over?.peek()?.marks ?? []).filter((m) => m.x >= f.low && m.x <= f.high).map((m) => `<circle cx="${at(f.x(m.x))}" cy="${at(f.y(m.axis, m.y) - 20)}" r="8" fill="#fff" stroke="#15181c"/><path d="M${at(f.x(m.x))} ${at(f.y(m.axis, m.y))}v-12" stroke="#15181c"/>` + text(f.x(m.x), f.y(m.axis, m.y) - 16, m.label, 'text-anchor="middle" font-weight="600"'));
  const few = lines.filter((line) => !line.faint).length <= 8;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${LEFT + f.width + RIGHT}" height="${TOP + f.height + BOTTOM}" font-family="sans-serif" font-size="12" fill="#15181c">
<title>${safe(title)}</title><rect width="100%" height="100%" fill="#fff"/>
<clipPath id="c"><rect x="${LEFT}" y="${TOP}" width="${at(f.width)}" height="${at(f.height)}"/></clipPath>
${text(8, 14, title, 'font-weight="600" font-size="14"')}
${[...shade, ...axes(f, props)].join('\n')}
<g clip-path="url(#c)">${[...zero, ...(few ? lines.filter((l) => l.half).map((l) => bandOf(f, l)) : []), ...lines.map((l) => lineOf(f, l)), ...marks, ...notes].join('\n')}</g>
${names(f, lines).join('\n')}
</svg>
`;
}
