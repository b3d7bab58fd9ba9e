/* Pulls: the list, an overlay of two sides with their bands, the difference, the answer in words. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import { api, type Comparison, type Pull, type PullCurve } from './api';
import { changes, complain, go, route, say, units } from './state';
import { columnKind, columnLabel, date, fixed, quantity, rpm, shown, time, unitOf, withUncertainty, words } from './format';
import { Plot, type Line } from './plot';
import { Verdict } from './verdict';
import { Explain } from './explain';
import { SweepView } from './view_sweep';
import { StepUpView } from './view_step_up';
import { MethodView } from './view_method';
import { ChannelsView } from './view_channels';

type Side = 'a' | 'b';
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

function List({ pulls, a, b }: { pulls: Pull[]; a: number[]; b: number[] }) {
  const [filter, setFilter] = useState('');
  const wanted = filter.toLowerCase();
  const rows = pulls.filter((p) => !wanted || [p.id, p.purpose, p.changed, p.discarded, p.day, ...Object.values(p.setup)].join(' ').toLowerCase().includes(wanted)).reverse();
  return (
    <section class="list-side" aria-label="Pulls">
      <div class="tools"><input type="search" placeholder="Find: spark 30, discarded, a date" aria-label="Find pulls" value={filter} onInput={(e) => setFilter(e.currentTarget.value)} /></div>
      <div tabIndex={0} class="scroll tall"><table class="list">
        <thead><tr><th scope="col">Before</th><th scope="col">After</th><th scope="col" class="num">Pull</th><th scope="col" class="num">To, rpm</th><th scope="col" class="num">Mean, {unitOf('torque')}</th><th scope="col">What changed</th></tr></thead>
        <tbody>
          {rows.map((p, i) => (<>
            {(i === 0 || rows[i - 1]!.day !== p.day) && <tr class="day-row" key={'d' + p.day}><th colSpan={6} scope="colgroup">{p.day}</th></tr>}
            <tr key={p.id} class={(p.discarded ? 'discarded ' : '') + (a.includes(p.id) ? 'in-a' : b.includes(p.id) ? 'in-b' : '')}>
              <td><button type="button" class="side a" aria-pressed={a.includes(p.id)} aria-label={`Pull ${p.id} before`} onClick={() => toggle('a', p.id)}>A</button></td>
              <td><button type="button" class="side b" aria-pressed={b.includes(p.id)} aria-label={`Pull ${p.id} after`} onClick={() => toggle('b', p.id)}>B</button></td>
              <td class="num">{p.id}</td><td class="num">{rpm(p.top_speed_rpm)}</td>
              <td class="num">{p.band_mean_torque_n_m == null ? '' : fixed(shown('torque', p.band_mean_torque_n_m), 1)}</td>
              <td>{p.purpose !== 'pull' && <span class="tag">{p.purpose}</span>}{p.discarded ? <span>discarded: {p.discarded}</span> : <>{p.changed ?? ''}{p.setup_changes.length > 0 && <span class="quiet"> {p.setup_changes.join('; ')}</span>}</>}</td>
            </tr>
          </>))}
        </tbody>
      </table></div>
    </section>
  );
}

/* The line of one pull for the number that is looked at. */
function lineOf(p: PullCurve, side: Side, what: string, single: boolean): Line[] {
  const style = side === 'a' ? { ink: 'blue' as const } : { ink: 'ochre' as const, dash: [8, 5] };
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
    const raw: Line = { label: 'samples', x: p.raw.speed_rpm, y: p.raw.torque_n_m.map((v) => v == null ? null : shown('torque', v)), ink: style.ink, faint: true };
    return [raw, { ...line, name: 'torque' }, { label: `power of pull ${p.id}`, name: 'power', x: c.speed_rpm, y: c.power_w.map((v) => v == null ? null : shown('power', v)), ink: 'ochre', dash: [8, 5], axis: 'right', decimals: 1 }];
  }
  const column = c.columns[what];
  if (!column) return [];
  const kind = columnKind(what);
  return [{ label: `${columnLabel(what)} of pull ${p.id}`, name, x: c.speed_rpm, y: column.map((v) => v == null ? null : kind ? shown(kind, v) : v), decimals: 3, ...style }];
}

function DiscardForm({ p }: { p: PullCurve }) {
  const [reason, setReason] = useState('');
  const takeBack = () => { void api.takeBack(p.id).catch(complain); };
  const discard = (e: Event) => {
    e.preventDefault();
    api.discard(p.id, reason).then(() => say(`Pull ${p.id} is discarded; it keeps its place.`, takeBack), complain);
  };
  if (p.discarded) return <><p>Discarded: {p.discarded}</p><button type="button" onClick={takeBack}>Let it count again</button></>;
  return (
    <details><summary>Discard it</summary>
      <form class="line-form" onSubmit={discard}><label>because <input required maxLength={400} value={reason} onInput={(e) => setReason(e.currentTarget.value)} /></label><button type="submit">Discard</button></form>
    </details>
  );
}

/* Facts of the pulls side by side; a row in which they differ stands out. */
function Facts({ curves, sideOf }: { curves: PullCurve[]; sideOf: (id: number) => Side }) {
  const between = (from: number | null, to: number | null) => `${quantity('temperature', from, 0)} to ${quantity('temperature', to, 0)}`;
  const share = (p: PullCurve) => (p.curve.torque_expanded_n_m[p.curve.speed_rpm.indexOf(p.peak.torque_speed_rpm)] ?? 0) / p.peak.torque_n_m;
  const setups = [...new Set(curves.flatMap((p) => Object.keys(p.setup)))].filter((name) => name !== 'rest');
  const rows: { name: string; tell: (p: PullCurve) => string; figures?: boolean }[] = [
    { name: 'When', tell: (p) => `${date(p.at)} ${time(p.at)}`, figures: true },
    { name: 'Highest power', tell: (p) => `${withUncertainty('power', p.peak.power_w, p.peak.power_w * share(p))} at ${rpm(p.peak.power_speed_rpm)}`, figures: true },
    { name: 'Highest torque', tell: (p) => `${withUncertainty('torque', p.peak.torque_n_m, p.peak.torque_n_m * share(p))} at ${rpm(p.peak.torque_speed_rpm)}`, figures: true },
    { name: 'Mean torque', tell: (p) => withUncertainty('torque', p.curve.band.mean_torque_n_m, p.curve.band.mean_torque_n_m * share(p)), figures: true },
    { name: 'over', tell: (p) => `${rpm(p.curve.band.low_rpm)} to ${rpm(p.curve.band.high_rpm)} rpm`, figures: true },
    { name: 'Factor', tell: (p) => `${fixed(p.curve.factor, 4)}${p.curve.in_range ? '' : ', OUT OF ITS RANGE'}`, figures: true },
    { name: 'after', tell: (p) => p.standard.replace('factor after ', '') },
    { name: 'Oil', tell: (p) => between(p.curve.conditions.oil_start_k, p.curve.conditions.oil_end_k) },
    { name: 'Coolant', tell: (p) => between(p.curve.conditions.coolant_start_k, p.curve.conditions.coolant_end_k) },
    { name: 'Inlet air', tell: (p) => between(p.curve.conditions.inlet_start_k, p.curve.conditions.inlet_end_k) },
    { name: 'Rest before', tell: (p) => quantity('time', p.curve.conditions.rest_s, 0) },
    ...setups.map((name) => ({ name: name.replaceAll('_', ' '), tell: (p: PullCurve) => p.setup[name] ?? '' })),
    { name: 'Cleaned', tell: (p) => Object.entries(p.curve.cleaned).filter(([, n]) => n > 0).map(([w, n]) => `${n} ${n === 1 ? w.replace(/s$/, '') : w}`).join(', ') || 'nothing touched', figures: true },
  ];
  const warned = curves.filter((p) => p.curve.warnings.length > 0);
  return (
    <section class="card">
      <h2>Conditions and set-up</h2>
      {warned.map((p) => <ul key={p.id} class="mind">{p.curve.warnings.map((w) => <li key={w}>Pull {p.id}: {words(w)}</li>)}</ul>)}
      <div tabIndex={0} class="scroll"><table class="compare-table">
        <thead><tr><td />{curves.map((p) => <th key={p.id} scope="col"><span class={'side-mark ' + sideOf(p.id)}>{sideOf(p.id).toUpperCase()}</span> Pull {p.id}</th>)}</tr></thead>
        <tbody>
          {rows.map(({ name, tell, figures }) => {
            const cells = curves.map(tell);
            const differs = !figures && cells.some((c) => c !== cells[0]);
            return <tr key={name} class={differs ? 'differs' : ''}><th scope="row">{name}</th>{cells.map((c, i) => <td key={i}>{c}</td>)}</tr>;
          })}
          <tr><th scope="row">Counts?</th>{curves.map((p) => <td key={p.id}><DiscardForm p={p} /></td>)}</tr>
        </tbody>
      </table></div>
    </section>
  );
}

export function PullsScreen() {
  const [pulls, setPulls] = useState<Pull[] | null>(null);
  const [curves, setCurves] = useState<PullCurve[]>([]);
  const [answer, setAnswer] = useState<Comparison | null>(null);
  const [kept, setKept] = useState(false);
  const [what, setWhat] = useState('torque');
  const [asked, setAsked] = useState<{ pull: number; speed: number } | null>(null);
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
  useEffect(() => {
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
  const lines = useMemo(() => curves.flatMap((c) => lineOf(c, sideOf(c.id), what, single)), [curves, what, system, query]);
  const difference = useMemo<Line[]>(() => answer?.curve ? [{
    label: 'B less A', name: 'B − A', x: answer.curve.speed_rpm, y: answer.curve.relative_difference.map((d) => 100 * Math.expm1(d)),
    half: answer.curve.relative_half_width.map((h) => 100 * h), ink: 'green', decimals: 2 }] : [], [answer]);
  const keep = () => { void api.compare(a, b, true).then((c) => { setAnswer(c); setKept(true); }, complain); };
  const kind = what === 'torque' || what === 'power' ? what : columnKind(what);
  const label = what === 'torque' || what === 'power' ? `corrected ${what}` : columnLabel(what);
  const band = curves[0]?.curve.band;

  if (!pulls) return <p class="quiet lone">Reading the pulls…</p>;
  const view = viewNow(), chosen = [...a, ...b];
  const last = chosen.length ? Math.max(...chosen) : 0;
  return (
    <div class="pulls">
      <List pulls={pulls} a={a} b={b} />
      <div class="work">
        <nav class="views" aria-label="Ways to look at these pulls">
          {views.map((v) => <a key={v.key} href={'#/pulls?' + new URLSearchParams({ ...(a.length ? { a: a.join(',') } : {}), ...(b.length ? { b: b.join(',') } : {}), ...(v.key ? { view: v.key } : {}) }).toString().replaceAll('%2C', ',')} aria-current={view === v.key ? 'page' : undefined}>{v.label}</a>)}
        </nav>
        {view === 'sweep' && <SweepView pulls={pulls} chosen={chosen} />}
        {view === 'limit' && last > 0 && <StepUpView pull={last} />}
        {view === 'method' && <MethodView a={a} b={b} />}
        {view === 'channels' && last > 0 && (<>
          <ChannelsView pull={last} asked={asked?.speed ?? null} onSpeed={(speed) => setAsked({ pull: last, speed })} />
          {asked && <Explain pull={last} speed={asked.speed} onClose={() => setAsked(null)} />}
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
            onPick={(x) => setAsked({ pull: (asked?.pull && curves.some((c) => c.id === asked.pull) ? asked.pull : curves[curves.length - 1]!.id), speed: x })} />
          <p class="quiet">Bands: 95&thinsp;%, as in a comparison, where common errors cancel. Shaded: the band of use. Click a curve, or press Enter on it, to walk a figure back; drag to zoom, double click for all.</p>
          {difference.length > 0 && <Plot title="difference B − A, %, with a band that holds over the whole range at once" lines={difference} height={200} xLabel="rpm" left="%" sync="pulls" zero />}
          {answer && !answer.curve && <p class="quiet">No band about the difference: see the cautions above.</p>}
          {curves.length > 1 && asked && <p class="tools">Figure of {curves.map((c) => <button key={c.id} type="button" aria-pressed={c.id === asked.pull} onClick={() => setAsked({ pull: c.id, speed: asked.speed })}>pull {c.id}</button>)}</p>}
          {asked && <Explain pull={asked.pull} speed={asked.speed} onClose={() => setAsked(null)} />}
          <Facts curves={curves} sideOf={sideOf} />
        </>)}
      </div>
    </div>
  );
}
