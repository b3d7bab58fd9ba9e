/* Predict: sliders and a curve that follows, what it can be wrong by, measured pulls underneath, fit, variants.
 *
 * A coarse run follows the slider; when it rests, a fine one comes with its band and the base beside it.
 * A prediction looks unlike a measurement: dashed, named so, and never kept as a pull. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { api, type FieldGroup, type PredictedCurve, type PredictQuestion, type PredictSide, type Pull, type PullCurve, type Sliders, type Tune, type Turn, type Typed } from './api';
import { book, changes, complain, go, handed, route, units } from './state';
import { dash, fixed, percent, rpm, shown, unitOf, words } from './format';
import { Plot, type Line } from './plot';
import { follow } from './predict_job';
import { SliderGroups } from './predict_sliders';
import { FitCard } from './predict_fit';
import { changeOf, rowOf, VaryCard, type Row } from './predict_vary';

/* Coarse runs: the first that this machine does in time; the one after it when the last took longer. */
const COARSE = [{ cell: '80 mm', speed_step: 500 }, { cell: '100 mm', speed_step: 500 }, { cell: '100 mm', speed_step: 1000 }], IN_TIME_S = 0.6;
let coarse = 0;
const FINE = '40 mm', FINE_STEP_RPM = 250, REST_MS = 400, ONE_DRAG_MS = 1500;

/* What the base and the sliders are; kept while another screen is looked at. */
interface Base { typed: Typed; changes: string[] }
interface Sketch { engine: number; version: string; base: Base; turns: Record<string, Turn>; spark: string; past: { turns: Record<string, Turn>; spark: string; base: Base }[]; moved: { key: string; at: number }; rows: Row[]; tune: Tune | null | undefined }
let sketch: Sketch | null = null;

type What = 'torque' | 'power' | 've' | 'octane' | 'fuel' | 'bsfc' | 'spark' | 'residual' | 'exhaust';
const views: { key: What; label: string; kind: string; decimals: number; of: (c: PredictedCurve) => (number | null)[]; column?: string }[] = [
  { key: 'torque', label: 'torque', kind: 'torque', decimals: 1, of: (c) => c.torque_n_m },
  { key: 'power', label: 'power', kind: 'power', decimals: 1, of: (c) => c.power_w },
  { key: 've', label: 'volumetric efficiency', kind: 'ratio', decimals: 1, of: (c) => c.volumetric_efficiency },
  { key: 'octane', label: 'knock margin, octane numbers to spare', kind: 'number', decimals: 1, of: (c) => c.octane_needed.map((o) => o == null || c.octane == null ? null : c.octane - o) },
  { key: 'fuel', label: 'fuel flow', kind: 'mass flow', decimals: 1, of: (c) => c.fuel_kg_s, column: 'fuel_flow_kg_s' },
  { key: 'bsfc', label: 'specific fuel', kind: 'specific fuel', decimals: 0, of: (c) => c.bsfc_kg_j, column: 'bsfc_kg_j' },
  { key: 'spark', label: 'spark before top dead centre', kind: 'angle', decimals: 1, of: (c) => c.spark_deg },
  { key: 'residual', label: 'burned gas left in the cylinder', kind: 'ratio', decimals: 1, of: (c) => c.residual_fraction },
  { key: 'exhaust', label: 'exhaust gas temperature', kind: 'temperature', decimals: 0, of: (c) => c.exhaust_k },
];

function linesOf(what: What, now: PredictedCurve, base: PredictedCurve | null, measured: PullCurve[]): Line[] {
  const view = views.find((v) => v.key === what)!;
  const show = (v: number | null) => v == null || !Number.isFinite(v) ? null : view.kind === 'number' ? v : shown(view.kind, v);
  const lines: Line[] = [];
  for (const p of measured) {
    const y = what === 'torque' ? p.curve.torque_n_m : what === 'power' ? p.curve.power_w : view.column ? p.curve.columns[view.column] : undefined;
    if (!y) continue;
    const scale = Math.abs(shown('torque', 1) - shown('torque', 0));
    lines.push({ label: `measured, pull ${p.id}`, name: `pull ${p.id}`, x: p.curve.speed_rpm, y: y.map(show), ink: 'blue', decimals: view.decimals,
      ...(what === 'torque' ? { half: p.curve.torque_expanded_n_m.map((h) => h == null ? null : h * scale) } : {}) });
  }
  if (base) lines.push({ label: 'the base, predicted', name: 'base', x: base.speed_rpm, y: view.of(base).map(show), ink: 'quiet', dash: [2, 4], decimals: view.decimals });
  const u = now.torque_standard_uncertainty_n_m;
  const half = u && (what === 'torque' || what === 'power') ? u.map((s, i) => {
    const inside = what === 'torque' ? 2 * s : 2 * s * now.speed_rpm[i]! * Math.PI / 30;
    return Math.abs(shown(view.kind, inside) - shown(view.kind, 0));
  }) : null;
  lines.push({ label: 'predicted', name: 'predicted', x: now.speed_rpm, y: view.of(now).map(show), ink: 'violet', dash: [9, 4], decimals: view.decimals, ...(half ? { half } : {}) });
  return lines;
}

function Shown({ what, onWhat, now, base, measured, height, label }: { what: What; onWhat: (w: What) => void; now: PredictedCurve; base: PredictedCurve | null; measured: PullCurve[]; height: number; label: string }) {
  const view = views.find((v) => v.key === what)!;
  const lines = useMemo(() => linesOf(what, now, base, measured), [what, now, base, measured, units.value]);
  const unit = view.kind === 'number' ? '' : unitOf(view.kind);
  return (<>
    <p class="tools"><label>{label} <select value={what} onChange={(e) => onWhat(e.currentTarget.value as What)}>{views.map((v) => <option key={v.key} value={v.key}>{v.label}</option>)}</select></label></p>
    <Plot title={`predicted ${view.label}${unit ? `, ${unit}` : ''}`} lines={lines} height={height} xLabel="rpm" left={unit} sync="predict" zero={what === 'octane'} gutter={78} />
  </>);
}

/* The most of a series, with where it stands. */
function most(c: PredictedCurve, y: (number | null)[]): { value: number; speed: number; at: number } | null {
  let at = -1;
  y.forEach((v, i) => { if (v != null && (at < 0 || v > y[at]!)) at = i; });
  return at < 0 ? null : { value: y[at]!, speed: c.speed_rpm[at]!, at };
}

function Headline({ now, stage, running }: { now: PredictedCurve; stage: 'coarse' | 'fine'; running: string | null }) {
  const cell = `${fixed(shown('length', now.cell_m), units.value === 'us' ? 1 : 0)}\u202f${unitOf('length')}`;
  return (<>
    <p class="verdict-line predict-gain" role="status">{now.gain ? words(now.gain.says) : stage === 'fine' && !now.against ? 'This is the base: turn something' : 'Turned: the difference comes with the fine run'}</p>
    <p class="predict-stage"><span class={'tag stage-' + stage}>{stage === 'coarse' ? `coarse: cells of ${cell}, no band yet` : `refined: cells of ${cell}, with its band`}</span> <span class="quiet">predicted, not measured; {now.speed_rpm.length} speeds in {fixed(now.wall_s, 2)}&thinsp;s{running ? `; ${running}` : ''}</span></p>
  </>);
}

function Summary({ now }: { now: PredictedCurve }) {
  const power = most(now, now.power_w), torque = most(now, now.torque_n_m);
  const u = now.torque_standard_uncertainty_n_m, half = (at: number) => u ? ` ± ${percent(2 * u[at]! / now.torque_n_m[at]!, 0)}` : '';
  const held = now.knock_limited.flatMap((k, i) => k && now.mbt_deg[i] != null ? [now.mbt_deg[i]! - now.spark_deg[i]!] : []);
  const lost = now.not_converged_because.flatMap((why, i) => why ? [`${rpm(now.speed_rpm[i]!)}: ${why}`] : []);
  return (
    <section class="card predict-says" aria-label="Prediction">
      <dl class="facts">
        {power && <div><dt>Highest power</dt><dd>{fixed(shown('power', power.value), 0)}&thinsp;{unitOf('power')}{half(power.at)} at {rpm(power.speed)}</dd></div>}
        {torque && <div><dt>Highest torque</dt><dd>{fixed(shown('torque', torque.value), 0)}&thinsp;{unitOf('torque')}{half(torque.at)} at {rpm(torque.speed)}</dd></div>}
        <div><dt>Compression</dt><dd>{fixed(now.compression_ratio, 2)}</dd></div>
        <div><dt>Knock</dt><dd>{held.length ? `holds the spark back at ${held.length} of ${now.speed_rpm.length} speeds, by up to ${fixed(Math.max(...held), 0)}°` : 'holds nothing back at this spark'}; asks for {fixed(Math.max(...now.octane_needed.map((o) => o ?? 0)), 0)} octane (± 3 to 4), the fuel has {now.octane == null ? dash : fixed(now.octane, 0)} by the same index</dd></div>
        <div><dt>Confidence</dt><dd>{now.uncertainty_from ? `Band at 95\u202f%: ${now.uncertainty_from}.` : 'No band yet.'}</dd></div>
      </dl>
      {lost.length > 0 && <ul class="mind">{lost.map((l) => <li key={l}>Did not settle at {l}</li>)}</ul>}
      <p class="quiet">A predicted knock limit ranks combinations. It is no permission for spark, mixture or speed on a real engine: the makers' limits come first, and spark is proved on the dyno from the safe side.</p>
      <details><summary>What was assumed ({now.assumed.length})</summary><ul>{now.assumed.map((a) => <li key={a}>{a}</li>)}</ul></details>
    </section>
  );
}

function Measured({ pulls, others, chosen, onChoose }: { pulls: Pull[]; others: boolean; chosen: number[]; onChoose: (ids: number[]) => void }) {
  const sound = pulls.filter((p) => p.purpose === 'pull' && !p.discarded).reverse().slice(0, 40);
  return (
    <details class="card"><summary><h2>Measured underneath{chosen.length > 0 && <span class="quiet"> pull {chosen.join(', ')}</span>}</h2></summary>
      {others && sound.length > 0 && <p class="warned">This engine has no pull yet: these are another engine's.</p>}
      {sound.length === 0 ? <p class="quiet">No sound pull in the book yet.</p> :
        <div class="scroll pick-list" tabIndex={0}>{sound.map((p) => (
          <label key={p.id}><input type="checkbox" checked={chosen.includes(p.id)} onChange={(e) => onChoose(e.currentTarget.checked ? [...chosen, p.id].slice(-8) : chosen.filter((c) => c !== p.id))} /> pull {p.id} <span class="quiet">to {rpm(p.top_speed_rpm)} {p.changed ?? ''}</span></label>))}</div>}
      <p class="quiet">Solid and blue: measured, corrected to the book's standard air. The prediction runs in the air of the engine's own fields.</p>
    </details>
  );
}

export function PredictScreen() {
  const id = book.value?.engine_id ?? 0, system = units.value;
  const [, redraw] = useState(0);
  const [info, setInfo] = useState<Sliders | null>(null);
  const [headings, setHeadings] = useState<Record<string, string>>({});
  const [now, setNow] = useState<PredictedCurve | null>(null);
  const [stage, setStage] = useState<'coarse' | 'fine'>('coarse');
  const [base, setBase] = useState<PredictedCurve | null>(null);
  const [running, setRunning] = useState<string | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [pulls, setPulls] = useState<Pull[]>([]);
  const [measured, setMeasured] = useState<PullCurve[]>([]);
  const [upper, setUpper] = useState<What>('torque');
  const [lower, setLower] = useState<What>('octane');
  const chosen = (route.value.query.get('pulls') ?? '').split(',').map(Number).filter((n) => n > 0);
  const asking = useRef(0), busy = useRef(false), again = useRef(false), rest = useRef<ReturnType<typeof setTimeout> | undefined>(undefined), fineJob = useRef(0), gone = useRef(false);

  const s = sketch && sketch.engine === id ? sketch : null;
  const turns = s ? Object.values(s.turns) : [];
  const turned = s != null && (turns.length > 0 || s.spark !== '');
  const tune = s?.tune ?? undefined;

  useEffect(() => { gone.current = false; return () => { gone.current = true; clearTimeout(rest.current); }; }, []);
  useEffect(() => { api.engineFields().then((r: { groups: FieldGroup[] }) => setHeadings(Object.fromEntries(r.groups.map((g) => [g.key, g.heading]))), complain); }, []);
  useEffect(() => { api.pulls(system).then(setPulls, complain); }, [changes.value, system]);
  useEffect(() => { api.curves(chosen, system).then(setMeasured, complain); }, [route.value.query.get('pulls'), changes.value, system]);
  useEffect(() => {
    if (!id) return;
    api.engine(id).then((e) => {
      if (!sketch || sketch.engine !== id || sketch.version !== e.version)
        sketch = { engine: id, version: e.version, base: { typed: e.typed, changes: [] }, turns: {}, spark: '', past: [], moved: { key: '', at: 0 }, rows: sketch?.rows ?? [rowOf('compression', '-0.5, +0.5'), rowOf('cam_advance', '-4 deg, +4 deg'), rowOf('primary_length', '-100 mm, +100 mm')], tune: undefined };
      redraw((n) => n + 1); refresh();
    }, complain);
  }, [id, changes.value]);
  useEffect(() => { if (sketch) refresh(); }, [system]);

  const sideNow = (): PredictSide => ({ typed: sketch!.base.typed, changes: sketch!.base.changes, turns: Object.values(sketch!.turns), ...(sketch!.spark ? { spark: sketch!.spark } : {}), ...(sketch!.tune ? { tune: sketch!.tune } : {}) });
  const sideBase = (): PredictSide => ({ typed: sketch!.base.typed, changes: sketch!.base.changes, ...(sketch!.tune ? { tune: sketch!.tune } : {}) });
  const isTurned = () => sketch != null && (Object.keys(sketch.turns).length > 0 || sketch.spark !== '');
  const question = (): Omit<PredictQuestion, 'page'> => sideNow();

  /* Sliders as the server reads them, and then the curve. */
  function refresh() {
    const at = sketch;
    if (!at) return;
    api.predictSliders(at.base.typed, Object.values(at.turns), id, system).then((i) => {
      if (gone.current) return;
      if (at.tune === undefined) { at.tune = i.tune ?? null; }
      setInfo(i); setProblem(null); follows();
    }, (e: unknown) => setProblem(e instanceof Error ? e.message : String(e)));
  }

  /* One coarse run at a time, the latest wins; the fine one when nothing has moved for a moment. */
  function follows() {
    asking.current++;
    clearTimeout(rest.current);
    if (fineJob.current) { void api.predictCancel(fineJob.current).catch(() => undefined); fineJob.current = 0; }
    if (busy.current) { again.current = true; return; }
    busy.current = true;
    const mine = asking.current;
    setRunning('following…');
    follow<PredictedCurve>('', { ...sideNow(), ...COARSE[coarse]! }).then((c) => {
      if (c && c.wall_s > IN_TIME_S) coarse = Math.min(coarse + 1, COARSE.length - 1);
      else if (c && c.wall_s < IN_TIME_S / 4) coarse = Math.max(coarse - 1, 0);
      if (c && !gone.current) { setNow(c); setStage('coarse'); setProblem(null); }
    }, (e: unknown) => { if (!gone.current) setProblem(e instanceof Error ? e.message : String(e)); }).finally(() => {
      busy.current = false;
      if (gone.current) return;
      if (again.current || mine !== asking.current) { again.current = false; follows(); return; }
      setRunning(null);
      rest.current = setTimeout(() => fine(mine), REST_MS);
    });
  }
  function fine(mine: number) {
    if (gone.current || mine !== asking.current) return;
    setRunning('refining…');
    follow<PredictedCurve>('', { ...sideNow(), cell: FINE, speed_step: FINE_STEP_RPM, uncertainty: true, ...(isTurned() ? { against: sideBase() } : {}) },
      (share) => { if (mine === asking.current) setRunning(`refining, ${percent(share, 0)}`); }, (job) => { fineJob.current = job; }).then((c) => {
      if (!c || gone.current || mine !== asking.current) return;
      setNow(c); setStage('fine'); setBase(c.against ?? c); setRunning(null); fineJob.current = 0;
    }, (e: unknown) => { if (!gone.current && mine === asking.current) { setProblem(e instanceof Error ? e.message : String(e)); setRunning(null); } });
  }

  const remember = () => { const k = sketch!; k.past.push({ turns: k.turns, spark: k.spark, base: k.base }); if (k.past.length > 200) k.past.shift(); };
  const turn = (value: Turn | null, key: string) => {
    const k = sketch!, next = { ...k.turns };
    const moving = typeof value?.to === 'number' && k.moved.key === key && Date.now() - k.moved.at < ONE_DRAG_MS; /* one drag is one edit */
    if (!moving) remember();
    k.moved = { key: typeof value?.to === 'number' ? key : '', at: Date.now() };
    if (value) next[key] = value; else delete next[key];
    k.turns = next;
    redraw((n) => n + 1);
    if (typeof value?.to === 'number') follows(); else refresh();
  };
  const put = (part: Partial<Sketch>) => { remember(); Object.assign(sketch!, part); redraw((n) => n + 1); refresh(); };
  const undo = () => { const k = sketch!, before = k.past.pop(); if (!before) return; Object.assign(k, before); redraw((n) => n + 1); refresh(); };
  const newBase = () => { api.predictSliders(s!.base.typed, turns, id, system).then((i) => put({ base: { typed: i.typed, changes: s!.base.changes }, turns: {} }), complain); };
  const copy = () => { api.predictSliders(s!.base.typed, turns, id, system).then((i) => { handed.value = i.typed; go('engine'); }, complain); };
  const fresh = () => { api.engine(id).then((e) => put({ base: { typed: e.typed, changes: [] }, turns: {}, spark: '' }), complain); };

  if (!id) return <section class="first"><h1>No engine yet</h1><p class="lead">Type one on the <a href="#/engine">Engine</a> screen, and its curve can be predicted here.</p></section>;
  if (!s) return <p class="quiet lone">Reading the engine…</p>;
  const name = typeof s.base.typed['name'] === 'string' ? s.base.typed['name'] : 'the engine';
  const fuel = s.turns['.fuel'];
  const narrow = innerWidth < 992;
  const own = pulls.filter((p) => p.engine_id === id);
  return (
    <div class="predict">
      <header class="headline">
        <div><h1>Predict: {name}</h1><p class="quiet">{s.base.changes.length ? <>Base: {s.base.changes.map((c, i) => <span key={c + i} class="tag">{words(c.replace('=', ' ')).replaceAll('_', ' ')} <button type="button" class="plain" aria-label={`take off ${c}`} onClick={() => put({ base: { ...s.base, changes: s.base.changes.filter((_o, k) => k !== i) } })}>✕</button></span>)}</> : 'A curve before it is built, from the figures of the Engine screen.'}</p></div>
        <div class="tools"><button type="button" onClick={undo} disabled={s.past.length === 0}>Undo</button><button type="button" onClick={newBase} disabled={turns.length === 0}>Make this the base</button><button type="button" onClick={fresh} disabled={s.past.length === 0}>As kept in the book</button><button type="button" onClick={copy} disabled={turns.length === 0}>Copy into the Engine form</button></div>
      </header>
      {problem && <p class="said grave" role="alert">{words(problem)}</p>}
      <div class="predict-columns">
        <div class="turning">
          <section class="curve-card" aria-label="Curve">
            {now ? <><Headline now={now} stage={stage} running={running} />
              <Shown what={upper} onWhat={setUpper} now={now} base={turned ? base : null} measured={measured} height={narrow ? 190 : 340} label="Show" /></>
              : <p class="quiet lone">{problem ? <>No curve yet: what is missing is typed on the <a href="#/engine">Engine</a> screen.</> : 'The engine runs for the first time…'}</p>}
          </section>
          <section class="card sliders" aria-label="Sliders">
            <h2>What to turn</h2>
            <div class="turn choice"><label for="turn-fuel">fuel</label><select id="turn-fuel" value={String(fuel?.to ?? info?.fuel ?? '')} onChange={(e) => turn({ group: '', name: 'fuel', to: e.currentTarget.value }, '.fuel')}>
              {info && !info.fuels.includes(info.fuel ?? '') && <option value={info.fuel ?? ''}>{info.fuel ?? 'not given: petrol'}</option>}{info?.fuels.map((f) => <option key={f} value={f}>{f}</option>)}</select></div>
            <Spark value={s.spark} at={now} onSpark={(spark) => put({ spark })} onSlide={(spark) => { if (s.moved.key !== 'spark' || Date.now() - s.moved.at >= ONE_DRAG_MS) remember(); s.moved = { key: 'spark', at: Date.now() }; s.spark = spark; redraw((n) => n + 1); follows(); }} />
            {info && <SliderGroups sliders={info.sliders} headings={headings} turns={s.turns} problem={problem} onTurn={turn} />}
            <p class="quiet">Arrow keys turn by a step, Page Up and Page Down by more. Any unit may be typed. What the engine does not give is assumed by rule: type it on the Engine screen to turn it here.</p>
          </section>
        </div>
        <div class="rest">
          {now && <><Shown what={lower} onWhat={setLower} now={now} base={turned ? base : null} measured={measured} height={200} label="Below it" /><Summary now={now} /></>}
          <Measured pulls={own.length ? own : pulls} others={own.length === 0} chosen={chosen} onChoose={(ids) => go('predict', ids.length ? { pulls: ids.join(',') } : {})} />
          {info && <FitCard question={question} pulls={chosen} engine={id} knobs={info.knobs} tune={tune ?? null} kept={info.tune ?? null} onTune={(t) => { s.tune = t; redraw((n) => n + 1); follows(); }} />}
          {info && <VaryCard question={question} names={info.changes} rows={s.rows} octane={now?.octane ?? null} onRows={(rows) => { s.rows = rows; redraw((n) => n + 1); }} onBase={(change) => put({ base: { ...s.base, changes: [...s.base.changes, changeOf(change)] } })} />}
        </div>
      </div>
    </div>
  );
}

/* The spark is no field of the engine: sought, or given for all speeds. */
function Spark({ value, at, onSpark, onSlide }: { value: string; at: PredictedCurve | null; onSpark: (spark: string) => void; onSlide: (spark: string) => void }) {
  const given = Number.parseFloat(value), start = at ? Math.round(at.spark_deg[Math.floor(at.spark_deg.length / 2)] ?? 28) : 28;
  return (
    <div class={'turn choice' + (value ? ' turned' : '')}>
      <label for="turn-spark-how">spark</label>
      <select id="turn-spark-how" value={value ? 'given' : 'sought'} onChange={(e) => onSpark(e.currentTarget.value === 'given' ? `${start} deg` : '')}><option value="sought">best, or what knock leaves</option><option value="given">given, at every speed</option></select>
      {value && <><input type="range" aria-label="spark, degrees before top dead centre" min={0} max={50} step={0.5} value={given} aria-valuetext={`${given} degrees`} onInput={(e) => onSlide(`${e.currentTarget.value} deg`)} /><span class="turn-figure">{fixed(given, 1)}°</span></>}
    </div>
  );
}
