/* What is being thought about on the Predict screen: the base, what is turned, the past that Undo walks; kept while another
 * screen is looked at, and begun anew when the engine in the book changes. */
import type { PredictSide, Tune, Turn, Typed } from './api';
import { rowOf, type Row } from './predict_vary';

const ONE_DRAG_MS = 1500, UNDO_MOST = 200;

export interface Base { typed: Typed; changes: string[] }
interface Past { turns: Record<string, Turn>; spark: string; base: Base }
export interface Sketch extends Past {
  engine: number;
  version: string;
  past: Past[];
  moved: { key: string; at: number }; /* the slider last moved, and when */
  rows: Row[];
  tune: Tune | null | undefined; /* undefined: not yet asked for */
}
let sketch: Sketch | null = null;

export const sketchOf = (engine: number): Sketch | null => sketch && sketch.engine === engine ? sketch : null;

export function begin(engine: number, version: string, typed: Typed) {
  if (sketch && sketch.engine === engine && sketch.version === version) return;
  const rows = sketch?.rows ?? [rowOf('compression', '-0.5, +0.5'), rowOf('cam_advance', '-4 deg, +4 deg'), rowOf('primary_length', '-100 mm, +100 mm')];
  sketch = { engine, version, base: { typed, changes: [] }, turns: {}, spark: '', past: [], moved: { key: '', at: 0 }, rows, tune: undefined };
}

export function remember(k: Sketch) {
  k.past.push({ turns: k.turns, spark: k.spark, base: k.base });
  if (k.past.length > UNDO_MOST) k.past.shift();
}

/* One drag is one edit: what moves on within a moment is not remembered again. */
export function moving(k: Sketch, key: string) {
  if (k.moved.key !== key || Date.now() - k.moved.at >= ONE_DRAG_MS) remember(k);
  k.moved = { key, at: Date.now() };
}

export function takeBack(k: Sketch): boolean {
  const before = k.past.pop();
  if (before) Object.assign(k, before);
  return before !== undefined;
}

export const isTurned = (k: Sketch) => Object.keys(k.turns).length > 0 || k.spark !== '';
export const sideBase = (k: Sketch): PredictSide => ({ typed: k.base.typed, changes: k.base.changes, ...(k.tune ? { tune: k.tune } : {}) });
export const sideNow = (k: Sketch): PredictSide => ({ ...sideBase(k), turns: Object.values(k.turns), ...(k.spark ? { spark: k.spark } : {}) });
