/* Pulls: the list, an overlay of two sides with their bands, the difference, the answer in words. */
import { Photos } from './photos';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { api, type Comparison, type Pull, type PullCurve } from './api';
import { changes, complain, go, route, units } from './state';
import { columnKind, columnLabel, shown, unitOf } from './format';
import { List, type Side } from './pulls_list';
import { Facts, SIDE_BY_SIDE, speedOf, type Asked } from './pulls_facts';
import { FactOrigin } from './fact_origin';
import { Plot, type Line } from './plot';
import { FEW } from './plot_names';
import { Verdict } from './verdict';
import { Explain } from './explain';
import { SweepView } from './view_sweep';
import { StepUpView } from './view_step_up';
import { MethodView } from './view_method';
import { ChannelsView } from './view_channels';

const idsOf = (side: Side) => (route.value.query.get(side) ?? '').split(',').map(Number).filter((n) => n > 0);

const views = [
  { key: '', label: 'Curves' },
  { key: 'sweep', label: 'Sweep' },
  { key: 'limit', label: 'Next limit' },
  { key: 'channels', label: 'Channels' },
  { key: 'method', label: 'Method' },
] as const;
const viewNow = () => route.value.query.get('view') ?? '';

function setSides(a: number[], b: number[], view = viewNow()) {
  go('pulls', { ...(a.length ? { a: a.join(',') } : {}), ...(b.length ? { b: b.join(',') } : {}), ...(view ? { view } : {}) });
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

/* The line of one pull for the number that is looked at. */
function lineOf(p: PullCurve, side: Side, what: string, single: boolean): Line[] {
  const style = { id: p.id, ...(side === 'a' ? { ink: 'blue' as const } : { ink: 'ochre' as const, dash: [8, 5] }) };
  const name = `${side.toUpperCase()} ${p.id}`;
  const c = p.curve;
  if (what === 'torque' || what === 'power') {
    const torque = what === 'torque', kind = what;
    const values = torque ? c.torque_n_m : c.power_w;
    const toPower = (rpmValue: number) => torque ? 1 : rpmValue * Math.PI / 30;
    const scale = Math.abs(shown(kind, 1) - shown(kind, 0));
    const half = c.torque_comparative_n_m.map((h, i) => h == null ? null : h * toPower(c.speed_rpm[i]!) * scale);
    const line: Line = { label: `${kind} of pull ${p.id}`, name, x: c.speed_rpm, y: values.map((v) => v == null ? null : shown(kind, v)), half, decimals: 1, ...style };
    if (!single || !torque) return [line];
    const raw: Line | null = p.raw ? { label: 'samples', x: p.raw.speed_rpm, y: p.raw.torque_n_m.map((v) => v == null ? null : shown('torque', v)), ink: style.ink, faint: true } : null;
    return [...(raw ? [raw] : []), { ...line, name: 'torque' }, { label: `power of pull ${p.id}`, name: 'power', x: c.speed_rpm, y: c.power_w.map((v) => v == null ? null : shown('power', v)), ink: 'ochre', dash: [8, 5], axis: 'right', decimals: 1 }];
  }
  const column = c.columns[what];
  if (!column) return [];
  const kind = columnKind(what);
  return [{ label: `${columnLabel(what)} of pull ${p.id}`, name, x: c.speed_rpm, y: column.map((v) => v == null ? null : kind ? shown(kind, v) : v), decimals: 3, ...style }];
}

/* Among many lines of a side, the older stand further back. */
function paled(lines: Line[]): Line[] {
  if (lines.length <= FEW) return lines;
  return lines.map((line) => {
    const side = lines.filter((other) => other.ink === line.ink), at = side.indexOf(line);
    return { ...line, pale: 1 - (at + 1) / side.length };
  });
}

export function PullsScreen() {
  const [pulls, setPulls] = useState<Pull[] | null>(null);
  const [curves, setCurves] = useState<PullCurve[]>([]);
  const [answer, setAnswer] = useState<Comparison | null>(null);
  const [kept, setKept] = useState(false);
  const [what, setWhat] = useState('torque');
  const [asked, setAsked] = useState<Asked | null>(null);
  const place = useRef<HTMLDivElement>(null);
  const version = changes.value, system = units.value;
  const query = route.value.query.toString();
  const a = idsOf('a'), b = idsOf('b');

  useEffect(() => { api.pulls(system).then(setPulls, complain); }, [version, system]);
  useEffect(() => {
    if (pulls && a.length + b.length === 0) {
      const sound = pulls.filter((p) => p.purpose === 'pull' && !p.discarded);
      if (sound.length) setSides([sound[sound.length - 1]!.id], []);
    }
  }, [pulls, query]);
  useLayoutEffect(() => { /* asked for at once, not after the next frame */
    let gone = false;
    const now = [...a, ...b];
    setAsked((old) => old && now.includes(old.pull) ? old : null);
    api.curves(now, system).then((c) => { if (!gone) setCurves(c); }, complain);
    return () => { gone = true; };
  }, [query, version, system]);
  useEffect(() => {
    let gone = false;
    const keep = route.value.query.get('keep') === '1';
    if (a.length === 0 || b.length === 0) { setAnswer(null); return undefined; }
    api.compare(a, b, keep).then((c) => { if (!gone) { setAnswer(c); setKept(keep); } }, (problem: unknown) => { if (!gone) { setAnswer(null); complain(problem); } });
    return () => { gone = true; };
  }, [query]);

  const sideOf = (id: number): Side => b.includes(id) ? 'b' : 'a';
  const columns = useMemo(() => [...new Set(curves.flatMap((c) => Object.keys(c.curve.columns)))], [curves]);
  const single = curves.length === 1;
  const lines = useMemo(() => paled(curves.flatMap((c) => lineOf(c, sideOf(c.id), what, single))), [curves, what, system]); /* a change of sides brings new curves */
  const difference = useMemo<Line[]>(() => answer?.curve ? [{
    label: 'B less A', name: 'B − A', x: answer.curve.speed_rpm, y: answer.curve.relative_difference.map((d) => 100 * Math.expm1(d)),
    half: answer.curve.relative_half_width.map((h) => 100 * h), ink: 'green', decimals: 2 }] : [], [answer]);
  const keep = () => { void api.compare(a, b, true).then((c) => { setAnswer(c); setKept(true); }, complain); };
  const kind = what === 'torque' || what === 'power' ? what : columnKind(what);
  const label = what === 'torque' || what === 'power' ? `corrected ${what}` : columnLabel(what);
  const band = answer ? { low_rpm: answer.band_low_rpm, high_rpm: answer.band_high_rpm } : curves[curves.length - 1]?.curve.band;

  const list = useMemo(() => pulls && <List pulls={pulls} a={a} b={b} onToggle={toggle} onTake={take} onClear={() => setSides([Math.max(...a, ...b)], [])} />, [pulls, query]);
  const facts = useMemo(() => <Facts curves={curves} sideOf={sideOf} onAsk={(next) => { setAsked(next); setTimeout(() => place.current?.scrollIntoView({ block: 'nearest' }), 60); }} />, [curves]); /* nor is what did not change drawn anew */

  if (!pulls) return <p class="quiet lone">Reading the pulls…</p>;
  const view = viewNow(), chosen = [...a, ...b];
  const last = chosen.length ? Math.max(...chosen) : 0;
  return (
    <div class="pulls">
      <h1 class="unseen">Pulls</h1>
      {list}
      <div class="work">
        <nav class="views" aria-label="Ways to look at these pulls">
          {views.map((v) => <a key={v.key} href={'#/pulls?' + new URLSearchParams({ ...(a.length ? { a: a.join(',') } : {}), ...(b.length ? { b: b.join(',') } : {}), ...(v.key ? { view: v.key } : {}) }).toString().replaceAll('%2C', ',')} aria-current={view === v.key ? 'page' : undefined}>{v.label}</a>)}
        </nav>
        {view === 'sweep' && <SweepView pulls={pulls} chosen={chosen} />}
        {view === 'limit' && last > 0 && <StepUpView pull={last} />}
        {view === 'method' && <MethodView a={a} b={b} />}
        {view === 'channels' && last > 0 && (<>
          <ChannelsView pull={last} curve={curves.find((c) => c.id === last) ?? null} asked={speedOf(asked)} onSpeed={(speed) => setAsked({ pull: last, speed })} />
          {asked && 'speed' in asked && <Explain pull={last} speed={asked.speed} onClose={() => setAsked(null)} />}
        </>)}
        {view === '' && answer && <Verdict answer={answer} kept={kept} onKeep={keep} />}
        {view === '' && curves.length > 0 && (<>
          <div class="tools">
            <label>Show <select value={what} onChange={(e) => setWhat(e.currentTarget.value)}>
              <option value="torque">corrected torque</option><option value="power">corrected power</option>
              {columns.map((key) => <option key={key} value={key}>{columnLabel(key)}</option>)}
            </select></label>
            <a class="button" href={api.reportAddress({ pulls: [...a, ...b].join(','), units: system })} download>Report of these (PDF)</a>
          </div>
          <Plot title={label + (kind && unitOf(kind) ? `, ${unitOf(kind)}` : '') + (single && what === 'torque' ? `; power, ${unitOf('power')}` : '')} lines={lines} height={380} xLabel="rpm"
            left={kind ? unitOf(kind) : ''} right={unitOf('power')} sync="pulls" {...(band ? { shade: { low: band.low_rpm, high: band.high_rpm } } : {})}
            onPick={(x, id) => setAsked({ pull: id ?? (asked?.pull && curves.some((c) => c.id === asked.pull) ? asked.pull : curves[curves.length - 1]!.id), speed: x })} />
          <p class="quiet">{lines.length > FEW ? 'Many lines: the older of a side are paler; the one that is pointed at, or chosen with up and down, stands out and has its band. ' : ''}Bands: 95&thinsp;%, as in a comparison, where common errors cancel. Shaded: the band of use. Click a curve, or press Enter on it, to walk a figure back; drag to zoom, double click for all.</p>
          {difference.length > 0 && <Plot title="difference B − A, %, with a band that holds over the whole range at once" lines={difference} height={200} xLabel="rpm" left="%" sync="pulls" zero />}
          {answer && !answer.curve && <p class="quiet">No band about the difference: see the cautions above.</p>}
          {curves.length > 1 && curves.length <= SIDE_BY_SIDE && asked && <p class="tools">Figure of {curves.map((c) => <button key={c.id} type="button" aria-pressed={c.id === asked.pull} onClick={() => setAsked({ ...asked, pull: c.id })}>pull {c.id}</button>)}</p>}
          {asked && <div ref={place} tabIndex={-1}>{'speed' in asked ? <Explain pull={asked.pull} speed={asked.speed} onClose={() => setAsked(null)} /> : <FactOrigin pull={asked.pull} of={asked.of} onClose={() => setAsked(null)} />}</div>}
          {facts}
          {last > 0 && <Photos of={`pull:${last}`} heading={`Photos and files of pull ${last}`} />}
        </>)}
      </div>
    </div>
  );
}
