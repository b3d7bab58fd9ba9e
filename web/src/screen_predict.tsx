/* Predict: sliders and a curve that follows, what it can be wrong by, measured pulls underneath, fit, variants.
 *
 * A coarse run follows the slider; when it rests, a fine one comes with its band and the base beside it.
 * A prediction looks unlike a measurement: dashed, named so, and never kept as a pull. */
import { useEffect, useState } from 'preact/hooks';
import { api, counts, type FieldGroup, type PredictedCurve, type Pull, type PullCurve, type Sliders, type Turn } from './api';
import { Waiting } from './waiting';
import { book, changes, complain, connected, go, handed, route, units } from './state';
import { fixed, rpm, words } from './format';
import { partOf, pathOf } from './engine_parts';
import { Shown, type What } from './predict_curves';
import { FitCard } from './predict_fit';
import { useFollowing } from './predict_follow';
import { InsideCard } from './predict_inside';
import { RatioCard } from './predict_ratio';
import { Headline, Summary } from './predict_says';
import { begin, isTurned, moving, remember, sideNow, sketchOf, takeBack, type Sketch } from './predict_sketch';
import { SliderGroups } from './predict_sliders';
import { changeOf, VaryCard } from './predict_vary';
import { t, tx } from './words';

function Measured({ pulls, others, chosen, onChoose }: { pulls: Pull[]; others: boolean; chosen: number[]; onChoose: (ids: number[]) => void }) {
  const sound = pulls.filter(counts).reverse().slice(0, 40);
  return (
    <details class="card"><summary><h2>Measured underneath{chosen.length > 0 && <span class="quiet"> {t('pull {pull}', { pull: chosen.join(', ') })}</span>}</h2></summary>
      {others && sound.length > 0 && <p class="warned">This engine has no pull yet: these are another engine's.</p>}
      {sound.length === 0 ? <p class="quiet">No sound pull in the book yet.</p> :
        <div class="scroll pick-list" tabIndex={0}>{sound.map((p) => (
          <label key={p.id}><input type="checkbox" checked={chosen.includes(p.id)} onChange={(e) => onChoose(e.currentTarget.checked ? [...chosen, p.id].slice(-8) : chosen.filter((c) => c !== p.id))} /> {t('pull {pull}', { pull: p.id })} <span class="quiet" translate={false}>{t('to {speed}', { speed: rpm(p.top_speed_rpm) })} {p.changed ?? ''}</span></label>))}</div>}
      <p class="quiet">Solid and blue: measured, corrected to the book's standard air. The prediction runs in the air of the engine's own fields.</p>
    </details>
  );
}

/* The spark is no field of the engine: sought, or given for all speeds. */
function Spark({ value, at, onSpark, onSlide }: { value: string; at: PredictedCurve | null; onSpark: (spark: string) => void; onSlide: (spark: string) => void }) {
  const given = Number.parseFloat(value), start = at ? Math.round(at.spark_deg[Math.floor(at.spark_deg.length / 2)] ?? 28) : 28;
  return (
    <div class={'turn choice' + (value ? ' turned' : '')}>
      <label for="turn-spark-how">spark</label>
      <select id="turn-spark-how" value={value ? 'given' : 'sought'} onChange={(e) => onSpark(e.currentTarget.value === 'given' ? `${start} deg` : '')}><option value="sought">best, knock permitting</option><option value="given">given, at every speed</option></select>
      {value && <><input type="range" aria-label="spark, degrees before top dead centre" min={0} max={50} step={0.5} value={given} aria-valuetext={t('{angle} degrees', { angle: fixed(given, 1) })} onInput={(e) => onSlide(`${e.currentTarget.value} deg`)} /><span class="turn-figure">{fixed(given, 1)}°</span></>}
    </div>
  );
}

/* "runner_length=0.509672321 m" to four figures: what is asked for again keeps them all. */
const shortly = (change: string) => change.replace('=', ' ').replace(/\d+\.\d{3,}/, (n) => String(Number(Number(n).toPrecision(4))));

/* The base named by what it was changed by, and what can be done with all of it. */
interface HeadProps { s: Sketch; onPut: (part: Partial<Sketch>) => void; onUndo: () => void; onBase: () => void; onFresh: () => void; onCopy: () => void }
function Head({ s, onPut, onUndo, onBase, onFresh, onCopy }: HeadProps) {
  const name = typeof s.base.typed['name'] === 'string' ? s.base.typed['name'] : t('the engine'), still = Object.keys(s.turns).length === 0, kept = still && s.base.changes.length === 0;
  const takeOff = (i: number) => onPut({ base: { ...s.base, changes: s.base.changes.filter((_o, k) => k !== i) } });
  return (
    <header class="headline">
      <div><h1 translate={false}>{t('Predict: {engine}', { engine: name })}</h1><p class="quiet">{s.base.changes.length ? <>{t('Base:')} {s.base.changes.map((c, i) => <span key={c + i} class="tag">{words(shortly(c)).replaceAll('_', ' ')} <button type="button" class="plain" aria-label={t('take off {change}', { change: c })} onClick={() => takeOff(i)}>✕</button></span>)}</> : 'A curve before it is built, from the figures of the Engine screen.'}</p></div>
      <div class="tools"><button type="button" onClick={onUndo} disabled={s.past.length === 0}>Undo</button><button type="button" onClick={onBase} disabled={still}>Make this the base</button><button type="button" onClick={onFresh} disabled={s.past.length === 0}>As kept in the book</button><button type="button" onClick={onCopy} disabled={kept}>Copy into the Engine form</button></div>
    </header>
  );
}

interface TurnsProps { s: Sketch; info: Sliders | null; headings: Record<string, string>; now: PredictedCurve | null; problem: string | null; field: string | null; onTurn: (turn: Turn | null, key: string) => void; onSpark: (spark: string) => void; onSlide: (spark: string) => void }
function Turns({ s, info, headings, now, problem, field, onTurn, onSpark, onSlide }: TurnsProps) {
  const fuel = s.turns['.fuel'];
  return (
    <section class="card sliders" aria-label="Sliders">
      <h2>What to change</h2>
      <div class="turn choice"><label for="turn-fuel">fuel</label><select id="turn-fuel" value={String(fuel?.to ?? info?.fuel ?? '')} onChange={(e) => onTurn({ group: '', name: 'fuel', to: e.currentTarget.value }, '.fuel')}>
        {info && !info.fuels.includes(info.fuel ?? '') && <option value={info.fuel ?? ''}>{info.fuel ?? 'not given: petrol'}</option>}{info?.fuels.map((f) => <option key={f} value={f}>{f}</option>)}</select></div>
      <Spark value={s.spark} at={now} onSpark={onSpark} onSlide={onSlide} />
      {info && <SliderGroups sliders={info.sliders} headings={headings} turns={s.turns} problem={problem} field={field} onTurn={onTurn} />}
      <p class="quiet">Arrow keys change by a step, Page Up and Page Down by more. Any unit may be typed. What the engine's file does not give is assumed by rule: type it on the Engine screen to change it here.</p>
    </section>
  );
}

/* The pulls that can lie underneath, and those that do. */
function useMeasured(chosen: number[]) {
  const [pulls, setPulls] = useState<Pull[]>([]);
  const [measured, setMeasured] = useState<PullCurve[]>([]);
  const system = units.value;
  useEffect(() => { api.pulls(system).then(setPulls, complain); }, [changes.value, system]);
  useEffect(() => { api.curves(chosen, system).then(setMeasured, complain); }, [chosen.join(), changes.value, system]);
  return { pulls, measured };
}

/* The headings of the groups of fields. */
function useHeadings(): Record<string, string> {
  const [headings, setHeadings] = useState<Record<string, string>>({});
  useEffect(() => { api.engineFields().then((r: { groups: FieldGroup[] }) => setHeadings(Object.fromEntries(r.groups.map((g) => [g.key, g.heading]))), complain); }, []);
  return headings;
}

/* The engine as the book has it, and every edit of it: each is shown at once, and the curve follows. */
function useSketch(id: number) {
  const system = units.value, [, redraw] = useState(0), { seen, follows, refresh } = useFollowing(id, system);
  const [why, setWhy] = useState<string | null>(null);
  const changed = (then: () => void) => { redraw((n) => n + 1); then(); };
  useEffect(() => {
    if (id) api.engine(id).then((e) => { setWhy(null); begin(id, e.version, e.typed); changed(refresh); }, (e: unknown) => setWhy(e instanceof Error ? e.message : String(e)));
  }, [id, changes.value]);
  useEffect(refresh, [system]);
  const s = sketchOf(id);
  const put = (part: Partial<Sketch>) => { remember(s!); Object.assign(s!, part); changed(refresh); };
  const turn = (value: Turn | null, key: string) => {
    const sliding = typeof value?.to === 'number', next = { ...s!.turns };
    if (value) next[key] = value; else delete next[key];
    if (sliding) moving(s!, key); else { remember(s!); s!.moved = { key: '', at: 0 }; }
    s!.turns = next;
    changed(sliding ? follows : refresh);
  };
  const slideSpark = (spark: string) => { moving(s!, 'spark'); s!.spark = spark; changed(follows); };
  const undo = () => { if (takeBack(s!)) changed(refresh); };
  /* with the base's changes and the turns in it; left: what an engine's file does not say */
  const typedNow = () => api.predictSliders(s!.base.typed, Object.values(s!.turns), id, system, s!.base.changes);
  const newBase = () => { typedNow().then(({ typed, left }) => put({ base: { typed, changes: left }, turns: {} }), complain); };
  /* shown on the engine's page that has the first of them */
  const copy = () => { typedNow().then(({ typed }) => { const first = Object.values(s?.turns ?? {})[0]; handed.value = typed; go('engine', first ? { part: partOf(pathOf(first.group, first.name)) } : {}); }, complain); };
  const fresh = () => { api.engine(id).then((e) => put({ base: { typed: e.typed, changes: [] }, turns: {}, spark: '' }), complain); };
  return { s, why, seen, changed, follows, put, turn, slideSpark, undo, newBase, copy, fresh };
}

export function PredictScreen() {
  const id = book.value?.engine_id ?? 0;
  const chosen = (route.value.query.get('pulls') ?? '').split(',').map(Number).filter((n) => n > 0);
  const { pulls, measured } = useMeasured(chosen), headings = useHeadings(), at = useSketch(id), { s } = at, { info, now, base, stage, running, problem, field } = at.seen;
  const [upper, setUpper] = useState<What>('torque');
  const [lower, setLower] = useState<What>('octane');
  if (!id) return <section class="first"><h1>No engine yet</h1><p class="lead">{tx('Type one on the {screen} screen, and its curve can be predicted here.', { screen: <a href="#/engine">Engine</a> })}</p></section>;
  if (!s) return <Waiting says="Reading the engine…" why={at.why} to="#/engine" toWords={t('To the engine')} />;
  const narrow = innerWidth < 992, own = pulls.filter((p) => p.engine_id === id), beside = isTurned(s) ? base : null, question = () => sideNow(s);
  return (
    <div class="predict">
      <Head s={s} onPut={at.put} onUndo={at.undo} onBase={at.newBase} onFresh={at.fresh} onCopy={at.copy} />
      {problem && <p class="said grave" role="alert">{words(problem)}</p>}
      <div class="predict-columns">
        <div class="turning">
          <section class="curve-card" aria-label="Curve">
            {now ? <><Headline now={now} stage={stage} turned={isTurned(s)} running={running} />
              <Shown what={upper} onWhat={setUpper} now={now} base={beside} measured={measured} height={narrow ? 190 : 340} label="Show" /></>
              : <p class="quiet lone">{!connected.value ? t('No curve here: the server works it out, and it does not answer.') : problem ? tx('No curve yet: type what is missing on the {screen} screen.', { screen: <a href="#/engine">Engine</a> }) : t('The engine runs for the first time…')}</p>}
          </section>
          <Turns s={s} info={info} headings={headings} now={now} problem={problem} field={field} onTurn={at.turn} onSpark={(spark) => at.put({ spark })} onSlide={at.slideSpark} />
        </div>
        <div class="rest">
          {now && <><Shown what={lower} onWhat={setLower} now={now} base={beside} measured={measured} height={200} label="Below it" /><Summary now={now} /><InsideCard question={question} now={now} stage={stage} /></>}
          <Measured pulls={own.length ? own : pulls} others={own.length === 0} chosen={chosen} onChoose={(ids) => go('predict', ids.length ? { pulls: ids.join(',') } : {})} />
          {info && <FitCard question={question} pulls={chosen} engine={id} knobs={info.knobs} tune={s.tune ?? null} kept={info.tune ?? null} outdated={info.kept_fit_is_of_earlier_physics === true} onTune={(tune) => { s.tune = tune; at.changed(at.follows); }} />}
          {info && <RatioCard question={question} />}
          {info && <VaryCard question={question} names={info.changes} rows={s.rows} octane={now?.octane ?? null} onRows={(rows) => { s.rows = rows; at.changed(() => undefined); }} onBase={(change) => at.put({ base: { ...s.base, changes: [...s.base.changes, changeOf(change)] } })} />}
        </div>
      </div>
    </div>
  );
}
