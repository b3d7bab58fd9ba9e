/* Pulls: the plot of two sides with their bands and their difference; the answer in one line above it, the list beside. */
import { effect } from '@preact/signals';
import { useEffect, useLayoutEffect, useMemo, useState } from 'preact/hooks';
import { api, counts, isGone, type Comparison, type PullCurve } from './api';
import { Waiting } from './waiting';
import { isKept } from './kept';
import { changes, complain, go, route, units } from './state';
import { CurvesView } from './pulls_curves';
import { narrow, toAddress } from './pulls_find';
import { ofTheseOnly, shownNow, withQuery } from './pulls_seen';
import { usePulls } from './pulls_known';
import { List, openedNow, type Side } from './pulls_list';
import type { Asked } from './pulls_facts';
import { offered } from './drop';
import { FoldedVerdict } from './verdict';
import { afterPaint, Later } from './later';
import { words } from './format';
import { t, tn } from './words';

const idsOf = (side: Side) => (route.value.query.get(side) ?? '').split(',').map(Number).filter((n) => n > 0);

const views = [
  { key: '', label: 'Curves' },
  { key: 'sweep', label: 'Sweep' },
  { key: 'limit', label: 'Next limit' },
  { key: 'channels', label: 'Channels' },
  { key: 'method', label: 'Method' },
] as const;
const speedOf = (asked: Asked | null) => asked && 'speed' in asked ? asked.speed : null;
const viewNow = () => route.value.query.get('view') ?? '';
/* "3": only the pulls of that engine; "": of all. */
const engineNow = () => route.value.query.get('engine') ?? '';

/* What the two sides may differ in on purpose; another choice of pulls asks anew. */
const despiteNow = () => route.value.query.get('despite') ?? '';
function setSides(a: number[], b: number[], instead = false, despite = '') {
  go('pulls', withQuery({ ...ofTheseOnly, a: a.join(','), b: b.join(','), despite }), instead);
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

/* The curves are asked for as soon as the address names them, before anything is drawn of it; whoever draws them takes the answer. */
let here = 0; /* screens of pulls that stand */
let ahead: { of: string; answer: Promise<PullCurve[]> | null } = { of: '', answer: null }; /* answer null: taken */
const withSamples = (chosen: number) => shownNow().samples ?? chosen === 1;
const curvesOf = (ids: number[], samples: boolean) => `${ids.join()}|${units.value}|${samples}|${changes.value}`;
effect(() => {
  const ids = route.value.screen === 'pulls' ? [...idsOf('a'), ...idsOf('b')] : [], samples = withSamples(ids.length), of = curvesOf(ids, samples);
  if (!here || ids.length === 0 || ahead.of === of) return;
  const answer = api.curves(ids, units.value, samples);
  answer.catch(() => undefined); /* said by whoever takes it */
  ahead = { of, answer };
});
function takeCurves(ids: number[], samples: boolean): Promise<PullCurve[]> {
  const of = curvesOf(ids, samples), answer = ahead.of === of ? ahead.answer : null;
  ahead = { of, answer: null };
  return answer ?? api.curves(ids, units.value, samples);
}

/* What the server knows of the pulls: the list, the curves of those looked at, and how the two sides compare. */
function useSides(a: number[], b: number[]) {
  const [curves, setCurves] = useState<PullCurve[]>([]);
  const [answer, setAnswer] = useState<Comparison | null>(null);
  const [kept, setKept] = useState(false);
  const version = changes.value, system = units.value, query = `${a.join()}|${b.join()}|${route.value.query.get('keep') ?? ''}|${despiteNow()}`, engine = engineNow(); /* how they are looked at asks nothing again */
  const samples = withSamples(a.length + b.length);
  const { pulls: every, of, whole, why } = usePulls(system, version);
  const pulls = useMemo(() => every && engine ? every.filter((p) => p.engine_id === Number(engine)) : every, [every, engine]);
  useEffect(() => {
    if (pulls && a.length + b.length === 0) {
      const sound = pulls.filter(counts);
      if (sound.length) setSides([sound[sound.length - 1]!.id], [], true); /* in place of the address that named none: Back leads out */
    }
  }, [pulls, query]);
  useLayoutEffect(() => { /* asked for at once, not after the next frame */
    let gone = false;
    takeCurves([...a, ...b], samples).then((c) => { if (!gone) setCurves(c); }, (problem: unknown) => { if (!isGone(problem)) complain(problem); });
    return () => { gone = true; };
  }, [query, version, system, samples]);
  useLayoutEffect(() => { here++; return () => { here--; }; }, []);
  useEffect(() => {
    let gone = false;
    const keep = route.value.query.get('keep') === '1';
    if (a.length === 0 || b.length === 0) { setAnswer(null); return undefined; }
    api.compare(a, b, keep, despiteNow()).then((c) => { if (!gone) { setAnswer(c); setKept((was) => was || keep); if (keep) setSides(a, b, true, despiteNow()); } }, (problem: unknown) => { if (!gone) { setAnswer(null); if (!isGone(problem)) complain(problem); } });
    return () => { gone = true; };
  }, [query]);
  const keep = () => { void api.compare(a, b, true, despiteNow()).then((c) => { setAnswer(c); setKept(true); }, complain); };
  return { pulls, rest: whole || !every ? 0 : of - every.length, why, curves, answer, kept, keep };
}

const set = (query: Record<string, string | null>) => Object.fromEntries(Object.entries(query).filter((one): one is [string, string] => one[1] != null));
interface Sides { a: number[]; b: number[] }
function Views({ a, b }: Sides) {
  const view = viewNow(), at = (key: string) => '#/pulls?' + new URLSearchParams({ ...(a.length ? { a: a.join(',') } : {}), ...(b.length ? { b: b.join(',') } : {}), ...(key ? { view: key } : {}), ...(engineNow() ? { engine: engineNow() } : {}), ...set(toAddress(narrow.value)) }).toString().replaceAll('%2C', ',');
  return (
    <nav class="views" aria-label="Ways to look at these pulls">
      {views.map((v) => <a key={v.key} href={at(v.key)} aria-current={view === v.key ? 'page' : undefined}>{v.label}</a>)}
    </nav>
  );
}

/* Beside the plot where there is room; open or closed as this device left it. */
const WIDE = '(min-width: 62rem)';
function useListOpen(): [boolean, (open: boolean) => void] {
  const stored = () => { try { return localStorage.getItem('pulls-list'); } catch { return null; } };
  const [open, setOpen] = useState(() => openedNow.value > 0 || (matchMedia(WIDE).matches && stored() !== 'closed'));
  return [open, (next) => {
    setOpen(next);
    try { if (matchMedia(WIDE).matches) localStorage.setItem('pulls-list', next ? 'open' : 'closed'); } catch { /* a browser that keeps nothing opens it again */ }
  }];
}

export function PullsScreen() {
  const a = idsOf('a'), b = idsOf('b'), chosen = [...a, ...b], last = Math.max(0, ...chosen), view = viewNow();
  const { pulls, rest, why, curves, answer, kept, keep } = useSides(a, b);
  const [asked, setAsked] = useState<Asked | null>(null);
  const [listOpen, setListOpen] = useListOpen();
  const [listed, setListed] = useState(false);
  useEffect(() => { if (pulls && !listed) afterPaint(() => { setListed(true); }); }, [pulls, listed]); /* the list is seen first: the plot costs as much again */
  useEffect(() => { setAsked((old) => old && chosen.includes(old.pull) ? old : null); }, [chosen.join()]);
  const list = useMemo(() => pulls && <List pulls={pulls} rest={rest} a={a} b={b} onToggle={toggle} onTake={take} onClear={() => setSides([last], [])} />, [pulls, rest, a.join(), b.join()]); /* how the plot is looked at draws no list anew */
  if (!pulls) return <Waiting says="Reading the pulls…" why={why} />;
  return (
    <div class={'pulls' + (listOpen ? '' : ' wide')}>
      <h1 class="unseen">Pulls</h1>
      <a class="skip" href="#plot" onClick={(e) => { e.preventDefault(); document.querySelector<HTMLElement>('.work .plot-box')?.focus(); }}>To the plot</a>
      {listOpen && <div class="list-place">
        {engineNow() && <p class="quiet">Pulls of one engine only. <a href="#/pulls">Of all</a></p>}
        {list}
      </div>}
      <div class="work">
        {offered.value.length > 0 && <Later part={(m) => m.RecorderCard} given={{}} />}
        <div class="views-line">
          <button type="button" class="list-turn" aria-expanded={listOpen} onClick={() => setListOpen(!listOpen)}>{listOpen ? t('Close the list') : tn('{n} pull: list', '{n} pulls: list', pulls.length + rest)}</button>
          <Views a={a} b={b} />
        </div>
        {view === 'sweep' && <Later part={(m) => m.SweepView} given={{ pulls, chosen }} />}
        {view === 'limit' && last > 0 && <Later part={(m) => m.StepUpView} given={{ pull: last }} />}
        {view === 'method' && <Later part={(m) => m.MethodView} given={{ a, b }} />}
        {view === 'channels' && last > 0 && (<>
          <Later part={(m) => m.ChannelsView} given={{ pull: last, curve: curves.find((c) => c.id === last) ?? null, asked: speedOf(asked), onSpeed: (speed: number) => setAsked({ pull: last, speed }) }} />
          {asked && 'speed' in asked && <Later part={(m) => m.Explain} given={{ pull: last, speed: asked.speed, onClose: () => setAsked(null) }} />}
        </>)}
        {isKept(`pulls-${units.value}`) && curves.length === 0 && <p class="said grave">This list was kept on this device. The server works out curves and answers; they are not kept here, and follow when it answers again.</p>}
        <p class="unseen" role="status">{view === '' && answer ? words(answer.says.text) : ''}</p>
        {view === '' && answer && <FoldedVerdict answer={answer} kept={kept} onKeep={keep} onDespite={(facts) => setSides(a, b, false, facts)} />}
        {view === '' && listed && curves.length > 0 && <CurvesView a={a} b={b} curves={curves} answer={answer} asked={asked} onAsk={setAsked} />}
      </div>
    </div>
  );
}
