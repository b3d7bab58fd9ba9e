/* Pulls: the list, an overlay of two sides with their bands, the difference, the answer in words. */
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { api, counts, isGone, type Comparison, type PullCurve } from './api';
import { useQuestion } from './answered';
import { Waiting } from './waiting';
import { isKept } from './kept';
import { changes, complain, go, route, units } from './state';
import { columnKind, columnLabel, unitOf } from './format';
import { differenceOf, lineOf, paled } from './pulls_lines';
import { List, type Side } from './pulls_list';
import { Facts, SIDE_BY_SIDE, speedOf, type Asked } from './pulls_facts';
import { FactOrigin } from './fact_origin';
import { Photos } from './photos';
import { TripsOfPull } from './trips';
import { Plot } from './plot';
import { FEW } from './plot_names';
import { Verdict } from './verdict';
import { Explain } from './explain';
import { SweepView } from './view_sweep';
import { StepUpView } from './view_step_up';
import { MethodView } from './view_method';
import { ChannelsView } from './view_channels';
import { t } from './words';

const idsOf = (side: Side) => (route.value.query.get(side) ?? '').split(',').map(Number).filter((n) => n > 0);

const views = [
  { key: '', label: 'Curves' },
  { key: 'sweep', label: 'Sweep' },
  { key: 'limit', label: 'Next limit' },
  { key: 'channels', label: 'Channels' },
  { key: 'method', label: 'Method' },
] as const;
const viewNow = () => route.value.query.get('view') ?? '';
/* "3": only the pulls of that engine; "": of all. */
const engineNow = () => route.value.query.get('engine') ?? '';

function setSides(a: number[], b: number[], instead = false) {
  const view = viewNow();
  go('pulls', { ...(a.length ? { a: a.join(',') } : {}), ...(b.length ? { b: b.join(',') } : {}), ...(view ? { view } : {}), ...(engineNow() ? { engine: engineNow() } : {}) }, instead);
}
function toggle(side: Side, id: number) {
  const a = idsOf('a').filter((x) => side === 'b' ? x !== id : true), b = idsOf('b').filter((x) => side === 'a' ? x !== id : true);
  const list = side === 'a' ? a : b;
  const at = list.indexOf(id);
  if (at >= 0) list.splice(at, 1); else list.push(id);
  setSides(a, b);
}

function take(side: Side, ids: number[]) {
  if (side === 'a') setSides(ids, idsOf('b').filter((id) => !ids.includes(id)));
  else setSides(idsOf('a').filter((id) => !ids.includes(id)), ids);
}

/* What the server knows of the pulls: the list, the curves of those looked at, and how the two sides compare. */
function usePulls(a: number[], b: number[]) {
  const [curves, setCurves] = useState<PullCurve[]>([]);
  const [answer, setAnswer] = useState<Comparison | null>(null);
  const [kept, setKept] = useState(false);
  const version = changes.value, system = units.value, query = route.value.query.toString(), engine = engineNow();
  const { answer: every, why } = useQuestion(`pulls-${system}`, () => api.pulls(system), [version]);
  const pulls = useMemo(() => every && engine ? every.filter((p) => p.engine_id === Number(engine)) : every, [every, engine]);
  useEffect(() => {
    if (pulls && a.length + b.length === 0) {
      const sound = pulls.filter(counts);
      if (sound.length) setSides([sound[sound.length - 1]!.id], [], true); /* in place of the address that named none: Back leads out */
    }
  }, [pulls, query]);
  useLayoutEffect(() => { /* asked for at once, not after the next frame */
    let gone = false;
    api.curves([...a, ...b], system).then((c) => { if (!gone) setCurves(c); }, (problem: unknown) => { if (!isGone(problem)) complain(problem); });
    return () => { gone = true; };
  }, [query, version, system]);
  useEffect(() => {
    let gone = false;
    const keep = route.value.query.get('keep') === '1';
    if (a.length === 0 || b.length === 0) { setAnswer(null); return undefined; }
    api.compare(a, b, keep).then((c) => { if (!gone) { setAnswer(c); setKept((was) => was || keep); if (keep) setSides(a, b, true); } }, (problem: unknown) => { if (!gone) { setAnswer(null); if (!isGone(problem)) complain(problem); } });
    return () => { gone = true; };
  }, [query]);
  const keep = () => { void api.compare(a, b, true).then((c) => { setAnswer(c); setKept(true); }, complain); };
  return { pulls, why, curves, answer, kept, keep };
}

interface Sides { a: number[]; b: number[] }
function Views({ a, b }: Sides) {
  const view = viewNow(), at = (key: string) => '#/pulls?' + new URLSearchParams({ ...(a.length ? { a: a.join(',') } : {}), ...(b.length ? { b: b.join(',') } : {}), ...(key ? { view: key } : {}), ...(engineNow() ? { engine: engineNow() } : {}) }).toString().replaceAll('%2C', ',');
  return (
    <nav class="views" aria-label="Ways to look at these pulls">
      {views.map((v) => <a key={v.key} href={at(v.key)} aria-current={view === v.key ? 'page' : undefined}>{v.label}</a>)}
    </nav>
  );
}

interface CurvesProps extends Sides { curves: PullCurve[]; answer: Comparison | null; asked: Asked | null; onAsk: (asked: Asked | null) => void; what: string; onWhat: (what: string) => void }
/* The overlay and the difference under it; what is asked of a figure opens below them. */
function CurvesView({ a, b, curves, answer, asked, onAsk, what, onWhat }: CurvesProps) {
  const place = useRef<HTMLDivElement>(null);
  const system = units.value, single = curves.length === 1, last = Math.max(...a, ...b), first = what === 'torque' || what === 'power';
  const sideOf = (id: number): Side => b.includes(id) ? 'b' : 'a';
  const columns = useMemo(() => [...new Set(curves.flatMap((c) => Object.keys(c.curve.columns)))], [curves]);
  const lines = useMemo(() => paled(curves.flatMap((c) => lineOf(c, sideOf(c.id), what, single))), [curves, what, system]); /* a change of sides brings new curves */
  const difference = useMemo(() => differenceOf(answer), [answer]);
  const facts = useMemo(() => <Facts curves={curves} sideOf={sideOf} onAsk={(next) => { onAsk(next); setTimeout(() => place.current?.scrollIntoView({ block: 'nearest' }), 60); }} />, [curves]); /* nor is what did not change drawn anew */
  const kind = first ? what : columnKind(what), label = first ? t(what === 'power' ? 'corrected power' : 'corrected torque') : columnLabel(what);
  const band = answer ? { low_rpm: answer.band_low_rpm, high_rpm: answer.band_high_rpm } : curves[curves.length - 1]?.curve.band;
  const pick = (x: number, id?: number) => onAsk({ pull: id ?? (asked?.pull && curves.some((c) => c.id === asked.pull) ? asked.pull : curves[curves.length - 1]!.id), speed: x });
  return (<>
    <div class="tools">
      <label>Show <select value={what} onChange={(e) => onWhat(e.currentTarget.value)}>
        <option value="torque">corrected torque</option><option value="power">corrected power</option>
        {columns.map((key) => <option key={key} value={key}>{columnLabel(key)}</option>)}
      </select></label>
      <a class="button" href={api.reportAddress({ pulls: [...a, ...b].join(','), units: system })} download>Report of these (PDF)</a>
    </div>
    <Plot title={label + (kind && unitOf(kind) ? `, ${unitOf(kind)}` : '') + (single && what === 'torque' ? '; ' + t('power, {unit}', { unit: unitOf('power') }) : '')} lines={lines} height={380} xLabel="rpm"
      left={kind ? unitOf(kind) : ''} right={unitOf('power')} sync="pulls" take={`${what}-${[...a, ...b].join('-')}`} {...(band ? { shade: { low: band.low_rpm, high: band.high_rpm } } : {})} onPick={pick} />
    <p class="quiet">{lines.length > FEW ? t('Many lines: the older ones of a side are paler; the one pointed at, or chosen with up and down, stands out and has its band.') + ' ' : ''}{t('Bands: 95 %, as in a comparison, where common errors cancel. Shaded: the band of use. Click a curve, or press Enter on it, to walk a figure back; drag to zoom, double click for all.')}</p>
    {difference.length > 0 && <Plot title="difference B − A, %, with a band that holds over the whole range at once" lines={difference} height={200} xLabel="rpm" left="%" sync="pulls" zero take={`difference-${[...a, ...b].join('-')}`} />}
    {answer && !answer.curve && <p class="quiet">No band for the difference: see the cautions above.</p>}
    {curves.length > 1 && curves.length <= SIDE_BY_SIDE && asked && <p class="tools">{t('Figure of')} {curves.map((c) => <button key={c.id} type="button" aria-pressed={c.id === asked.pull} onClick={() => onAsk({ ...asked, pull: c.id })}>{t('pull {pull}', { pull: c.id })}</button>)}</p>}
    {asked && <div ref={place} tabIndex={-1}>{'speed' in asked ? <Explain pull={asked.pull} speed={asked.speed} onClose={() => onAsk(null)} /> : <FactOrigin pull={asked.pull} of={asked.of} onClose={() => onAsk(null)} />}</div>}
    {facts}
    {last > 0 && <TripsOfPull pull={last} />}
    {last > 0 && <Photos of={`pull:${last}`} heading={t('Photos and files of pull {pull}', { pull: last })} />}
  </>);
}

export function PullsScreen() {
  const a = idsOf('a'), b = idsOf('b'), chosen = [...a, ...b], last = Math.max(0, ...chosen), view = viewNow();
  const { pulls, why, curves, answer, kept, keep } = usePulls(a, b);
  const [asked, setAsked] = useState<Asked | null>(null);
  const [what, setWhat] = useState('torque');
  const query = route.value.query.toString();
  useEffect(() => { setAsked((old) => old && chosen.includes(old.pull) ? old : null); }, [query]);
  const list = useMemo(() => pulls && <List pulls={pulls} a={a} b={b} onToggle={toggle} onTake={take} onClear={() => setSides([last], [])} />, [pulls, query]);
  if (!pulls) return <Waiting says="Reading the pulls…" why={why} />;
  return (
    <div class="pulls">
      <h1 class="unseen">Pulls</h1>
      <div class="list-place">
        {engineNow() && <p class="quiet">Pulls of one engine only. <a href="#/pulls">Of all</a></p>}
        {list}
      </div>
      <div class="work">
        <Views a={a} b={b} />
        {view === 'sweep' && <SweepView pulls={pulls} chosen={chosen} />}
        {view === 'limit' && last > 0 && <StepUpView pull={last} />}
        {view === 'method' && <MethodView a={a} b={b} />}
        {view === 'channels' && last > 0 && (<>
          <ChannelsView pull={last} curve={curves.find((c) => c.id === last) ?? null} asked={speedOf(asked)} onSpeed={(speed) => setAsked({ pull: last, speed })} />
          {asked && 'speed' in asked && <Explain pull={last} speed={asked.speed} onClose={() => setAsked(null)} />}
        </>)}
        {isKept(`pulls-${units.value}`) && curves.length === 0 && <p class="said grave">This list was kept on this device. The server works out curves and answers; they are not kept here, and follow when it answers again.</p>}
        {view === '' && answer && <Verdict answer={answer} kept={kept} onKeep={keep} />}
        {view === '' && curves.length > 0 && <CurvesView a={a} b={b} curves={curves} answer={answer} asked={asked} onAsk={setAsked} what={what} onWhat={setWhat} />}
      </div>
    </div>
  );
}
