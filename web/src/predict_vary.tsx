/* What if: a table of variants, each a change to the base with its difference, the uncertainty of that, and how it ranks by knock. */
import { useState } from 'preact/hooks';
import { api, type PredictQuestion, type Variant, type VaryAnswer } from './api';
import { complain } from './state';
import { decimalsFor, fixed, percent, rpm, shown, unitOf, words } from './format';
import { follow } from './predict_job';
import { t } from './words';

export interface Row { id: number; name: string; value: string }
let lastRow = 0;
export const rowOf = (name: string, value: string): Row => ({ id: ++lastRow, name, value });
/* "compression +0.5", as the answer names it, is "compression=+0.5" as it is asked. */
export const changeOf = (text: string) => text.replace(' ', '=');

function difference(value: number, u: number): string {
  const scale = Math.abs(shown('torque', 1) - shown('torque', 0)), half = 2 * u * scale, places = Math.min(decimalsFor(half), 1);
  return `${value >= 0 ? '+' : ''}${fixed(value * scale, places)} ± ${fixed(half, places)}`;
}

const OCTANE_DOUBT = 4; /* what the knock integral asks for is known to 3 or 4 octane numbers */

type Column = 'below' | 'above' | 'octane';
const figures: Record<Column, (v: Variant) => number> = { below: (v) => -v.torque_below_n_m, above: (v) => -v.torque_above_n_m, octane: (v) => v.octane_needed };

function Answers({ answer, octane, onBase, onDrop }: { answer: VaryAnswer; octane: number | null; onBase: (change: string) => void; onDrop: (change: string) => void }) {
  const [by, setBy] = useState<Column>('above');
  const rows = [...answer.variants].sort((a, b) => figures[by](a) - figures[by](b));
  const middle = rpm(answer.middle_speed_rpm);
  const rank = (v: Variant) => 1 + answer.variants.filter((o) => o.octane_needed < v.octane_needed - 0.05).length;
  const head = (column: Column, label: string) => <th scope="col" class="num" aria-sort={by === column ? (column === 'octane' ? 'ascending' : 'descending') : 'none'}><button type="button" class="plain" onClick={() => setBy(column)}>{label}{by === column ? ' ▾' : ''}</button></th>;
  return (<>
    <div class="scroll" tabIndex={0}><table class="list variants"><thead><tr><th scope="col">Change</th>{head('below', t('up to {speed}, {unit}', { speed: middle, unit: unitOf('torque') }))}{head('above', t('from {speed}, {unit}', { speed: middle, unit: unitOf('torque') }))}{head('octane', t('octane needed'))}<th scope="col"><span class="unseen">What to do with it</span></th></tr></thead>
      <tbody>{rows.map((v) => (
        <tr key={v.change}><th scope="row">{words(v.says).replaceAll('_', ' ')}{!v.converged && <span class="grave-word"> {t('did not settle')}</span>}</th>
          <td class="num">{difference(v.torque_below_n_m, v.torque_below_standard_uncertainty_n_m)}</td><td class="num">{difference(v.torque_above_n_m, v.torque_above_standard_uncertainty_n_m)}</td>
          <td class="num">{fixed(v.octane_needed, 1)} <span class="quiet">{octane != null && v.octane_needed > octane + OCTANE_DOUBT ? t('rank {rank}, more than the fuel has', { rank: rank(v) }) : t('rank {rank}', { rank: rank(v) })}</span></td>
          <td class="row-buttons"><button type="button" onClick={() => onBase(v.change)}>Take as the new base</button><button type="button" class="plain" aria-label={t('Leave out {change}', { change: v.says })} onClick={() => onDrop(v.change)}>Leave out</button></td></tr>))}</tbody></table></div>
    <p class="quiet">Difference of mean torque from the base, ± at 95&thinsp;%: the fit's knobs, and a quarter of the difference for the model (rule of thumb, no source). Octane: what the knock integral asks for, ± 3 to 4; rank 1 is the safest. A ranking only: prove it from the safe side.</p>
  </>);
}

export function VaryCard({ question, names, rows, octane, onRows, onBase }: { question: () => Omit<PredictQuestion, 'page'>; names: { name: string; help: string }[]; rows: Row[]; octane: number | null;
  onRows: (rows: Row[]) => void; onBase: (change: string) => void }) {
  const [answer, setAnswer] = useState<VaryAnswer | null>(null);
  const [share, setShare] = useState(0);
  const [job, setJob] = useState(0);
  const [grid, setGrid] = useState(false);
  const [refused, setRefused] = useState<string | null>(null);
  const change = (id: number, part: Partial<Row>) => onRows(rows.map((r) => r.id === id ? { ...r, ...part } : r));
  const run = () => {
    setRefused(null); setShare(0);
    const variants = rows.filter((r) => r.value.trim() !== '').map((r) => `${r.name}=${r.value}`);
    follow<VaryAnswer>('/vary', { ...question(), variants, grid }, setShare, setJob)
      .then((a) => { if (a) setAnswer(a); }, (e: unknown) => setRefused(e instanceof Error ? e.message : String(e))).finally(() => setJob(0));
  };
  return (
    <section class="card" aria-label="Variants">
      <h2>Table of variants</h2>
      <form onSubmit={(e) => { e.preventDefault(); run(); }}>
        {rows.map((r) => (
          <div class="variant-row" key={r.id}>
            <label>Change <select value={r.name} onChange={(e) => change(r.id, { name: e.currentTarget.value })}>{names.map((n) => <option key={n.name} value={n.name}>{n.name.replaceAll('_', ' ')}</option>)}</select></label>
            <label>By or to <input value={r.value} onInput={(e) => change(r.id, { value: e.currentTarget.value })} placeholder={names.find((n) => n.name === r.name)?.help.split(', ').pop()} autocomplete="off" spellcheck={false} /></label>
            <button type="button" class="plain" aria-label={t('Remove {change}', { change: `${r.name.replaceAll('_', ' ')} ${r.value}` })} onClick={() => onRows(rows.filter((o) => o.id !== r.id))}>Remove</button>
            <span class="quiet">{names.find((n) => n.name === r.name)?.help}; {t('+ or − changes, a plain figure sets, % scales; several with commas')}</span>
          </div>))}
        <p class="tools"><button type="button" onClick={() => onRows([...rows, rowOf(names[0]?.name ?? 'compression', '')])}>Add a row</button>
          <label><input type="checkbox" checked={grid} onChange={(e) => setGrid(e.currentTarget.checked)} /> {t('every combination')}</label>
          {job === 0 ? <button type="submit" disabled={!rows.some((r) => r.value.trim())}>Run the table</button>
            : <><span role="status">{t('Running: {share}', { share: percent(share, 0) })}</span><button type="button" onClick={() => { void api.predictCancel(job).catch(complain); }}>Cancel</button></>}</p>
      </form>
      {refused && <p class="problem" role="alert">{words(refused)}</p>}
      {answer && <Answers answer={answer} octane={octane} onBase={onBase} onDrop={(c) => setAnswer({ ...answer, variants: answer.variants.filter((v) => v.change !== c) })} />}
    </section>
  );
}
