/* Looking closer at a plot, farther, and elsewhere: wheel, pinch, a box drawn with the mouse, a drag, a double tap.
 *
 * Mouse: the wheel zooms about the pointer (a page that is scrolling scrolls on, and zooming out ends where the page scrolls again);
 * a drag draws a box, wide for speeds only, tall for both; with Shift, or the middle button, it moves what is seen.
 * Touch: two fingers zoom and move; one moves the cursor, or what is seen once that is a part; a double tap shows all.
 *
 *   ALL --wheel, pinch, box--> PART --drag--> PART elsewhere --double tap, 0--> ALL
 *
 * Plots of one `sync` show the same speeds. What is seen is told a moment after it stands still. */
import uPlot from 'uplot';
import type { PlotProps, Seen, Span } from './plot_line';
import { pinOf, tellPin } from './plot_cursor';

const STILL_MS = 300, SCROLLING_MS = 350, TAP_MS = 320, TAP_PX = 30, LEAST_SHARE = 1 / 200;

/** The upright range somebody chose; null: as the lines need. */
export interface Look { y: Span }
const looks = new WeakMap<uPlot, Look>();

export function fullOf(u: uPlot): [number, number] {
  const x = u.data[0];
  return [x[0] ?? 0, x[x.length - 1] ?? 1];
}
export function spanOf(u: uPlot): Span {
  const [first, last] = fullOf(u), { min, max } = u.scales['x']!, slack = (last - first) * 1e-6;
  return min == null || max == null || (min <= first + slack && max >= last - slack) ? null : [min, max];
}

/** Kept inside of what there is, and wide enough to hold something. */
export function inside(low: number, high: number, [first, last]: [number, number]): [number, number] {
  const width = Math.min(Math.max(high - low, (last - first) * LEAST_SHARE), last - first);
  const from = Math.min(Math.max((low + high - width) / 2, first), last - width);
  return [from, from + width];
}
export function look(u: uPlot, low: number, high: number) {
  if (!Number.isFinite(low) || !Number.isFinite(high)) return;
  const [min, max] = inside(low, high, fullOf(u));
  u.setScale('x', { min, max });
}
export function lookAtAll(u: uPlot) {
  const own = looks.get(u), [min, max] = fullOf(u);
  if (own) own.y = null;
  u.setScale('x', { min, max });
}
export function setY(u: uPlot, y: Span) {
  const own = looks.get(u), { min, max } = u.scales['x']!;
  if (own) own.y = y;
  if (min != null && max != null) u.setScale('x', { min, max });
}

export function lookAt(u: uPlot, seen: Seen) {
  const own = looks.get(u), [low, high] = seen.x ?? fullOf(u);
  if (own) own.y = seen.y;
  look(u, low, high);
}

function zoomAbout(u: uPlot, at: number, factor: number) {
  const { min, max } = u.scales['x']!;
  if (min != null && max != null) look(u, at - (at - min) * factor, at + (max - at) * factor);
}
function moveBy(u: uPlot, px: number, from: [number, number]) {
  const per = (from[1] - from[0]) / Math.max(u.over.clientWidth, 1), [first, last] = fullOf(u);
  const by = Math.min(Math.max(-px * per, first - from[0]), last - from[1]);
  u.setScale('x', { min: from[0] + by, max: from[1] + by });
}

let scrolled = -Infinity;
addEventListener('scroll', () => { scrolled = performance.now(); }, { passive: true, capture: true });

function wheel(u: uPlot) {
  u.over.addEventListener('wheel', (e) => {
    if (!e.ctrlKey && performance.now() - scrolled < SCROLLING_MS) return;
    if (e.deltaY === 0 || (e.deltaY > 0 && !spanOf(u))) return;
    e.preventDefault();
    const at = u.posToVal(e.clientX - u.over.getBoundingClientRect().left, 'x');
    zoomAbout(u, at, Math.exp(Math.min(Math.max(e.deltaY, -120), 120) * (e.ctrlKey ? 0.01 : 0.0025)));
  }, { passive: false });
}

function drag(u: uPlot) {
  u.over.addEventListener('pointerdown', (e) => {
    if (e.pointerType === 'touch' || !(e.button === 1 || (e.button === 0 && e.shiftKey))) return;
    const { min, max } = u.scales['x']!, from = e.clientX;
    if (min == null || max == null) return;
    e.preventDefault();
    u.over.setPointerCapture(e.pointerId);
    const move = (m: PointerEvent) => { moveBy(u, m.clientX - from, [min, max]); };
    const end = () => { u.over.removeEventListener('pointermove', move); u.over.removeEventListener('pointerup', end); u.over.removeEventListener('pointercancel', end); };
    u.over.addEventListener('pointermove', move);
    u.over.addEventListener('pointerup', end);
    u.over.addEventListener('pointercancel', end);
  });
}

interface Finger { x: number; y: number }
function touch(u: uPlot) {
  const fingers = new Map<number, Finger>();
  let from: [number, number] = [0, 1], began: Finger[] = [], last = { at: -Infinity, x: 0, y: 0 }, moved = false;
  const begin = () => {
    const { min, max } = u.scales['x']!;
    from = [min ?? 0, max ?? 1];
    began = [...fingers.values()].map((f) => ({ ...f }));
  };
  const here = (clientX: number) => clientX - u.over.getBoundingClientRect().left;
  const pinch = (now: Finger[]) => {
    const apart = (f: Finger[]) => Math.max(Math.hypot(f[0]!.x - f[1]!.x, f[0]!.y - f[1]!.y), 10), middle = (f: Finger[]) => (f[0]!.x + f[1]!.x) / 2;
    const factor = apart(began) / apart(now), width = Math.max(u.over.clientWidth, 1);
    const held = from[0] + (from[1] - from[0]) * here(middle(began)) / width, span = (from[1] - from[0]) * factor;
    const low = held - span * here(middle(now)) / width;
    look(u, low, low + span);
  };
  u.over.addEventListener('pointerdown', (e) => {
    if (e.pointerType !== 'touch') return;
    fingers.set(e.pointerId, { x: e.clientX, y: e.clientY });
    moved = fingers.size > 1;
    begin();
  });
  u.over.addEventListener('pointermove', (e) => {
    const finger = fingers.get(e.pointerId);
    if (!finger) return;
    if (Math.hypot(e.clientX - finger.x, e.clientY - finger.y) > 6) moved = true;
    finger.x = e.clientX; finger.y = e.clientY;
    if (fingers.size === 2) pinch([...fingers.values()]);
    else if (fingers.size === 1 && moved && spanOf(u)) moveBy(u, e.clientX - began[0]!.x, from);
    else if (fingers.size === 1) u.setCursor({ left: here(e.clientX), top: e.clientY - u.over.getBoundingClientRect().top });
  });
  const gone = (e: PointerEvent) => {
    if (!fingers.delete(e.pointerId)) return;
    const now = performance.now(), near = Math.hypot(e.clientX - last.x, e.clientY - last.y) < TAP_PX;
    if (e.type === 'pointerup' && !moved && fingers.size === 0) {
      if (now - last.at < TAP_MS && near) { lookAtAll(u); last.at = -Infinity; } else last = { at: now, x: e.clientX, y: e.clientY };
    }
    begin();
  };
  u.over.addEventListener('pointerup', gone);
  u.over.addEventListener('pointercancel', gone);
}

/** What a box that was drawn asks for. A narrow tall one changes the upright range alone. */
function box(u: uPlot) {
  const { left, top, width, height } = u.select;
  u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
  if (width <= 0 || height <= 0) return;
  const own = looks.get(u), tall = height < u.over.clientHeight - 1;
  if (own && tall) own.y = [u.posToVal(top + height, 'left'), u.posToVal(top, 'left')];
  look(u, u.posToVal(left, 'x'), u.posToVal(left + width, 'x'));
}

/** uPlot's own drag, told apart from the one that moves. */
export const cursorOf = (): uPlot.Cursor => ({
  drag: { x: true, y: true, uni: 50, dist: 4, setScale: false },
  bind: {
    mousedown: (_u, _t, handler) => (e) => { if (e.button === 0 && !e.shiftKey) handler(e); return null; },
    dblclick: () => () => null,
  },
});

function together(u: uPlot, key: string) {
  const { min, max } = u.scales['x']!;
  if (min == null || max == null) return;
  for (const other of uPlot.sync(key).plots) {
    const theirs = other.scales['x']!;
    if (other !== u && other.root.isConnected && theirs.min != null && (Math.abs(theirs.min - min) > 1e-9 || Math.abs(theirs.max! - max) > 1e-9)) other.setScale('x', { min, max });
  }
}

const still = new WeakMap<uPlot, ReturnType<typeof setTimeout>>();
/** `own` is what the plot was built with. */
export function letLook(u: uPlot, own: Look, props: PlotProps) {
  looks.set(u, own);
  const tell = () => {
    clearTimeout(still.get(u));
    still.set(u, setTimeout(() => { if (u.root.isConnected) props.onSeen?.({ x: spanOf(u), y: own.y }, pinOf(u) == null ? null : u.data[0][pinOf(u)!]!); }, STILL_MS));
  };
  wheel(u);
  drag(u);
  touch(u);
  u.over.addEventListener('dblclick', () => { lookAtAll(u); });
  (u.hooks.setSelect ??= []).push(() => { box(u); });
  (u.hooks.setScale ??= []).push((_u, key) => { if (key === 'x') { if (props.sync) together(u, props.sync); tell(); } });
  tellPin(u, tell);
  if (props.seen?.x) look(u, props.seen.x[0], props.seen.x[1]);
}
