/* The facts of the chosen pulls; every figure is a button that leads to where it came from. A few pulls stand side
 * by side; many stand one a row, and what is the same in all is said once. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import { api, type Pull, type PullCurve } from './api';
import { whenIdle } from './later';
import { Amend } from './amend';
import { SIDE_BY_SIDE } from './plot_names';
import { labels } from './labels';
import { complain, say, units } from './state';
import { atEnd, date, fixed, quantity, rpm, time, withUncertainty, words } from './format';
import type { Side } from './pulls_list';
import { useDraft } from './draft';
import { Words } from './words_field';
import { t, tn, inWords } from './words';

const SOON_MS = 200;

/* What a figure is asked about: a speed of the curve, or a fact by name. */
export type Asked = { pull: number; speed: number } | { pull: number; of: string };

interface Fact { name: string; tell: (p: PullCurve) => string; figures?: boolean; from?: (p: PullCurve) => Asked }

/* What can be done with a pull, in its row and under its curve. */
export const PullDeeds = ({ p }: { p: Pull | PullCurve }) => <><DiscardForm p={p} /><Amend p={p} /></>;

/* In a row of many: its forms are made when they are asked for, but for what somebody has to see. */
function FoldedDeeds({ p }: { p: PullCurve }) {
  const [open, setOpen] = useState(false);
  if (p.held || p.discarded || p.reading > 1) return <PullDeeds p={p} />;
  return <details open={open} onToggle={(e) => setOpen(e.currentTarget.open)}><summary>Amend, discard, history</summary>{open && <PullDeeds p={p} />}</details>;
}

function DiscardForm({ p }: { p: Pull | PullCurve }) {
  const [reason, setReason] = useDraft(`discard-${p.id}`, ''), [open] = useState(reason !== '');
  const takeBack = () => { api.takeBack(p.id).then(() => { say(t('Pull {pull} counts again.', { pull: p.id })); }, complain); };
  const discard = (e: Event) => {
    e.preventDefault();
    api.discard(p.id, reason).then(() => { setReason(''); say(t('Pull {pull} is discarded; it keeps its place.', { pull: p.id }), takeBack); }, complain);
  };
  if (p.discarded) return <><p>{t('Discarded: {why}', { why: p.discarded })}</p><button type="button" onClick={takeBack}>Let it count again</button></>;
  return (
    <details open={open || undefined}><summary>Discard it</summary>
      <form class="line-form" onSubmit={discard}><Words label="Reason" required most={400} value={reason} onText={setReason} /><button type="submit">Discard</button></form>
    </details>
  );
}

const between = (from: number | null, to: number | null) => t('{low} to {high}', { low: quantity('temperature', from, 0), high: quantity('temperature', to, 0) });
const shareAt = (p: PullCurve, speed: number) => {
  const i = p.curve.speed_rpm.indexOf(speed), torque = p.curve.torque_n_m[i];
  return torque ? (p.curve.torque_expanded_n_m[i] ?? 0) / torque : 0;
};
const fact = (of: string) => (p: PullCurve): Asked => ({ pull: p.id, of });

function factsOf(curves: PullCurve[]): Fact[] {
  const setups = [...new Set(curves.flatMap((p) => Object.keys(p.setup)))].filter((name) => name !== 'rest');
  return [
    { name: t('When'), tell: (p) => `${date(p.at)} ${time(p.at)}`, figures: true, from: fact('when') },
    { name: t('Highest power'), tell: (p) => t('{figure} at {speed}', { figure: withUncertainty('power', p.peak.power_w, p.peak.power_w * shareAt(p, p.peak.power_speed_rpm)), speed: rpm(p.peak.power_speed_rpm) }) + atEnd(p.peak.power_at_end), figures: true, from: (p) => ({ pull: p.id, speed: p.peak.power_speed_rpm }) },
    { name: t('Highest torque'), tell: (p) => t('{figure} at {speed}', { figure: withUncertainty('torque', p.peak.torque_n_m, p.peak.torque_n_m * shareAt(p, p.peak.torque_speed_rpm)), speed: rpm(p.peak.torque_speed_rpm) }) + atEnd(p.peak.torque_at_end), figures: true, from: (p) => ({ pull: p.id, speed: p.peak.torque_speed_rpm }) },
    { name: t('Mean torque'), tell: (p) => withUncertainty('torque', p.curve.band.mean_torque_n_m, p.curve.band.mean_torque_n_m * shareAt(p, p.peak.torque_speed_rpm)), figures: true, from: fact('mean') },
    { name: t('over'), tell: (p) => t('{low} to {high} rpm', { low: rpm(p.curve.band.low_rpm), high: rpm(p.curve.band.high_rpm) }), figures: true, from: fact('mean') },
    { name: t('Factor'), tell: (p) => fixed(p.curve.factor, 4) + (p.curve.in_range ? '' : ', ' + t('OUT OF ITS RANGE')), figures: true, from: fact('factor') },
    { name: t('Standard'), tell: (p) => t(p.standard), from: fact('method') },
    { name: t('Oil'), tell: (p) => between(p.curve.conditions.oil_start_k, p.curve.conditions.oil_end_k), from: fact('oil_temperature') },
    { name: t('Coolant'), tell: (p) => between(p.curve.conditions.coolant_start_k, p.curve.conditions.coolant_end_k), from: fact('coolant_temperature') },
    { name: t('Inlet air'), tell: (p) => between(p.curve.conditions.inlet_start_k, p.curve.conditions.inlet_end_k), from: fact('inlet_air_temperature') },
    { name: t('Rest before'), tell: (p) => quantity('time', p.curve.conditions.rest_s, 0), from: fact('setup.rest') },
    ...setups.map((name): Fact => ({ name: name.replaceAll('_', ' '), tell: (p) => p.setup[name] ?? '', from: fact('setup.' + name) })),
    { name: 'Cleaned', tell: (p) => Object.entries(p.curve.cleaned).filter(([, n]) => n > 0).map(([w, n]) => `${n} ${inWords(w)}`).join(', ') || t('nothing touched'), figures: true, from: fact('cleaned') },
  ];
}

function Figure({ f, p, onAsk }: { f: Fact; p: PullCurve; onAsk: (asked: Asked) => void }) {
  const text = f.tell(p);
  if (!f.from || !text || text === '–' || text === between(null, null)) return <>{text}</>;
  return <button type="button" class="figure-link" title="Where this comes from" onClick={() => onAsk(f.from!(p))}>{text}</button>;
}

interface FactsProps { curves: PullCurve[]; sideOf: (id: number) => Side; onAsk: (asked: Asked) => void }
const Mark = ({ p, sideOf }: { p: PullCurve; sideOf: (id: number) => Side }) => <><span class={'side-mark ' + sideOf(p.id)}>{sideOf(p.id).toUpperCase()}</span> {t('Pull {pull}', { pull: p.id })}</>;

function SideBySide({ curves, sideOf, onAsk }: FactsProps) {
  return (
    <table class="compare-table">
      <thead><tr><td />{curves.map((p) => <th key={p.id} scope="col"><Mark p={p} sideOf={sideOf} /></th>)}</tr></thead>
      <tbody>
        {factsOf(curves).map((f) => {
          const differs = !f.figures && curves.some((p) => f.tell(p) !== f.tell(curves[0]!));
          return <tr key={f.name} class={differs ? 'differs' : ''}><th scope="row">{f.name}</th>{curves.map((p) => <td key={p.id}><Figure f={f} p={p} onAsk={onAsk} /></td>)}</tr>;
        })}
        <tr><th scope="row">Counts?</th>{curves.map((p) => <td key={p.id}><PullDeeds p={p} /></td>)}</tr>
      </tbody>
    </table>
  );
}

function OneARow({ curves, sideOf, onAsk }: FactsProps) {
  const facts = factsOf(curves), same = facts.filter((f) => !f.figures && curves.every((p) => f.tell(p) === f.tell(curves[0]!)) && f.tell(curves[0]!));
  const differ = facts.filter((f) => !f.figures && curves.some((p) => f.tell(p) !== f.tell(curves[0]!)));
  const setup = (f: Fact) => curves.some((p) => f.name.replaceAll(' ', '_') in p.setup);
  const shown = [...differ.filter(setup), ...facts.filter((f) => f.figures), ...differ.filter((f) => !setup(f))];
  return (<>
    {same.length > 0 && <p>{t('The same in all {n}:', { n: curves.length })} {same.map((f, i) => <span key={f.name}>{i ? '; ' : ''}{f.name} <Figure f={f} p={curves[0]!} onAsk={onAsk} /></span>)}.</p>}
    <div tabIndex={0} class="scroll"><table class="compare-table by-row">
      <thead><tr><th scope="col">Pull</th>{shown.map((f) => <th key={f.name} scope="col">{f.name}</th>)}<th scope="col">Counts?</th></tr></thead>
      <tbody>{curves.map((p) => <tr key={p.id}><th scope="row"><Mark p={p} sideOf={sideOf} /></th>{shown.map((f) => <td key={f.name}><Figure f={f} p={p} onAsk={onAsk} /></td>)}<td><FoldedDeeds p={p} /></td></tr>)}</tbody>
    </table></div>
  </>);
}

/* The same warning of several pulls is said once, with their numbers. */
function Warnings({ curves }: { curves: PullCurve[] }) {
  const by = new Map<string, number[]>();
  for (const p of curves) for (const w of p.curve.warnings) by.set(w.text, [...(by.get(w.text) ?? []), p.id]);
  if (by.size === 0) return null;
  return <ul class="mind">{[...by].map(([w, ids]) => <li key={w}>{tn('Pull {pulls}: {caution}', 'Pulls {pulls}: {caution}', ids.length, { pulls: ids.join(', '), caution: words(w) })}</li>)}</ul>;
}

/* The table comes after the plot, which somebody waits for; out of sight it is not laid out (app.css). */
export function Facts({ curves: now, sideOf, onAsk }: FactsProps) {
  const [curves, setCurves] = useState<PullCurve[]>([]);
  useEffect(() => {
    let left = false;
    whenIdle(() => { if (!left) setCurves(now); }, SOON_MS);
    return () => { left = true; };
  }, [now]);
  return useMemo(() => curves.length === 0 ? null : (
    <section class="card facts-of-pulls">
      <h2>Conditions and set-up</h2>
      <Warnings curves={curves} />
      {curves.length > SIDE_BY_SIDE ? <OneARow curves={curves} sideOf={sideOf} onAsk={onAsk} />
        : <div tabIndex={0} class="scroll"><SideBySide curves={curves} sideOf={sideOf} onAsk={onAsk} /></div>}
      <p class="quiet">{t('Touch a figure to see where it came from.')}{curves.length > 1 && curves.length <= SIDE_BY_SIDE ? ' ' + t('Bold: what differs.') : ''}</p>
    </section>
  ), [curves, units.value, labels.value]);
}
