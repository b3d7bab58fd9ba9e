/* The curve follows the sliders: one coarse run at a time, the latest wins; the fine one, with its band and the base beside
 * it, when nothing has moved for a moment. */
import { useEffect, useRef, useState } from 'preact/hooks';
import { api, Refusal, type PredictedCurve, type Sliders } from './api';
import { percent } from './format';
import { follow } from './predict_job';
import { isTurned, sideBase, sideNow, sketchOf } from './predict_sketch';
import type { Units } from './state';
import { t } from './words';

/* Steps of speed of a coarse run, which begins where this page's last one left off: the first that this machine does in time; the one after it when
 * the last took longer. */
const STEPS_RPM = [500, 1000, 1500], IN_TIME_S = 0.09;
let coarse = 1;
/* fine cells are the server's choice, by the highest speed */
const FINE_STEP_RPM = 250, REST_MS = 400;

function suitCoarse(took_s: number) {
  if (took_s > IN_TIME_S) coarse = Math.min(coarse + 1, STEPS_RPM.length - 1);
  else if (took_s < IN_TIME_S / 4) coarse = Math.max(coarse - 1, 0);
}

export interface Following {
  info: Sliders | null;
  now: PredictedCurve | null;
  base: PredictedCurve | null;
  stage: 'coarse' | 'fine';
  running: string | null;
  problem: string | null;
  field: string | null; /* which turn it is about: "inlet.head_diameter" */
}
const nothing: Following = { info: null, now: null, base: null, stage: 'coarse', running: null, problem: null, field: null };
const because = (e: unknown) => ({ problem: e instanceof Error ? e.message : String(e), field: e instanceof Refusal ? e.field : null });

export function useFollowing(engine: number, system: Units) {
  const [seen, setSeen] = useState(nothing);
  const at = useRef({ engine, asking: 0, busy: false, again: false, fineJob: 0, follows: 0, gone: false, rest: undefined as ReturnType<typeof setTimeout> | undefined }).current;
  at.engine = engine; /* what waits asks about the engine of then, not of when it began to wait */
  const tell = (part: Partial<Following>) => { if (!at.gone) setSeen((old) => ({ ...old, ...part })); };
  useEffect(() => { at.gone = false; return () => { at.gone = true; clearTimeout(at.rest); }; }, []);

  function fine(mine: number) {
    const sketch = sketchOf(at.engine);
    if (!sketch || at.gone || mine !== at.asking) return;
    const latest = () => mine === at.asking;
    tell({ running: 'refining…' });
    follow<PredictedCurve>('', { ...sideNow(sketch), speed_step: FINE_STEP_RPM, uncertainty: true, ...(isTurned(sketch) ? { against: sideBase(sketch) } : {}) },
      (share) => { if (latest()) tell({ running: t('refining, {share}', { share: percent(share, 0) }) }); }, (job) => { at.fineJob = job; }).then((c) => {
      if (!c || !latest()) return;
      tell({ now: c, stage: 'fine', base: c.against ?? c, running: null });
      at.fineJob = 0;
    }, (e: unknown) => { if (latest()) tell({ ...because(e), running: null }); });
  }

  function ended(mine: number) {
    at.busy = false;
    if (at.gone) return;
    if (at.again || mine !== at.asking) { at.again = false; follows(); return; }
    tell({ running: null });
    at.rest = setTimeout(() => fine(mine), REST_MS);
  }

  function follows() {
    const sketch = sketchOf(at.engine);
    if (!sketch) return;
    const mine = ++at.asking;
    clearTimeout(at.rest);
    if (at.fineJob) { void api.predictCancel(at.fineJob).catch(() => undefined); at.fineJob = 0; }
    if (at.busy) { at.again = true; return; }
    at.busy = true;
    tell({ running: 'following…' });
    follow<PredictedCurve>('', { ...sideNow(sketch), follow: true, speed_step: STEPS_RPM[coarse]! }).then((c) => {
      if (!c) return;
      if (at.follows === sketch.engine) suitCoarse(c.wall_s); /* the first of an engine begins from still gas */
      at.follows = sketch.engine;
      tell({ now: c, stage: 'coarse', problem: null, field: null });
    }, (e: unknown) => tell(because(e))).finally(() => ended(mine));
  }

  /* Sliders as the server reads them, and then the curve. */
  function refresh() {
    const sketch = sketchOf(at.engine);
    if (!sketch) return;
    api.predictSliders(sketch.base.typed, Object.values(sketch.turns), engine, system, sketch.base.changes).then((info) => {
      if (at.gone) return;
      if (sketch.tune === undefined) sketch.tune = info.tune ?? null;
      tell({ info, problem: null, field: null });
      follows();
    }, (e: unknown) => tell(because(e)));
  }
  return { seen, follows, refresh };
}
