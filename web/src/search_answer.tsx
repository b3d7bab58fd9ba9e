/* The front of a search: goal against goal, each a point to choose; the list with what holds each; what makes the difference. */
import { useState } from 'preact/hooks';
import type { SearchAnswer, SearchMember } from './api';
import { decimalsFor, fixed, percent, quantity, rpm, shown, unitOf, words } from './format';
import { t, tn } from './words';

/* Keys as people read them. */
export const figureName = (key: string): string => ({
  torque: t('mean torque'), power: t('greatest power'), octane: t('octane asked for'), fuel: t('fuel for the work'), residual: t('burnt gas left at idle'),
  peak_pressure: t('highest pressure'), exhaust_temperature: t('hottest exhaust'), price: t('price of the parts'), piston_speed: t('piston speed'),
  inlet_clearance: t('inlet valve to piston'), exhaust_clearance: t('exhaust valve to piston'), contact_loss: t('valve loses its lobe at'),
} as Record<string, string>)[key] ?? key.replaceAll('_', ' ');

type Figure = SearchAnswer['figures'][number];
const headOf = (f: Figure) => figureName(f.figure) + (f.from_rpm != null && f.to_rpm != null ? ' ' + t('{from} to {to}', { from: rpm(f.from_rpm), to: rpm(f.to_rpm) }) : '');
const unitText = (f: Figure) => unitOf(f.kind) ? `, ${unitOf(f.kind)}` : '';
const withUnit = (f: Figure, value: number) => cell(f, value) + (unitOf(f.kind) && f.kind !== 'ratio' ? ' ' + unitOf(f.kind) : '');
const places = (f: Figure) => f.figure === 'residual' || f.figure === 'octane' || f.figure === 'torque' || f.figure === 'power' ? 1 : f.figure === 'price' || f.figure === 'contact_loss' ? 0 : 2;
const cell = (f: Figure, value: number | null | undefined) => value == null ? '–' : f.kind === 'ratio' ? percent(value, 1) : fixed(shown(f.kind, value), places(f));

const WIDE = 460, HIGH = 300, LEFT = 62, RIGHT = 14, TOP = 14, LOW = 44;

function Scatter({ answer, chosen, onChoose }: { answer: SearchAnswer; chosen: number; onChoose: (i: number) => void }) {
  const [fx, fy] = answer.figures;
  if (!fx || !fy || fy.wanted === 'no') return null;
  const points = answer.front.map((m, i) => ({ i, x: m.figures[0], y: m.figures[1] })).filter((p): p is { i: number; x: number; y: number } => p.x != null && p.y != null);
  const base = answer.as_it_is[0] != null && answer.as_it_is[1] != null ? { x: answer.as_it_is[0], y: answer.as_it_is[1] } : null;
  const xs = [...points.map((p) => p.x), ...(base ? [base.x] : [])], ys = [...points.map((p) => p.y), ...(base ? [base.y] : [])];
  const lowX = Math.min(...xs), highX = Math.max(...xs), lowY = Math.min(...ys), highY = Math.max(...ys);
  const at = (value: number, low: number, high: number, from: number, to: number) => high > low ? from + (value - low) / (high - low) * (to - from) : (from + to) / 2;
  const px = (x: number) => at(x, lowX, highX, LEFT + 14, WIDE - RIGHT - 14), py = (y: number) => at(y, lowY, highY, HIGH - LOW - 14, TOP + 14);
  return (
    <figure class="search-plot">
      <div class="search-field"><svg viewBox={`0 0 ${WIDE} ${HIGH}`} role="group" aria-label={t('{y} against {x}', { x: headOf(fx), y: headOf(fy) })}>
        <path d={`M${LEFT} ${TOP}V${HIGH - LOW}H${WIDE - RIGHT}`} class="search-axis" />
        <text x={LEFT} y={HIGH - LOW + 17} class="search-tick">{cell(fx, lowX)}</text><text x={WIDE - RIGHT} y={HIGH - LOW + 17} class="search-tick end">{cell(fx, highX)}</text>
        <text x={LEFT - 6} y={HIGH - LOW - 10} class="search-tick end">{cell(fy, lowY)}</text><text x={LEFT - 6} y={TOP + 18} class="search-tick end">{cell(fy, highY)}</text>
        <text x={(LEFT + WIDE) / 2} y={HIGH - 8} class="search-label">{headOf(fx) + unitText(fx)}</text>
        <text x={-(HIGH - LOW) / 2} y={14} transform="rotate(-90)" class="search-label">{headOf(fy) + unitText(fy)}</text>
        {base && <g><path d={`M${px(base.x) - 6} ${py(base.y)}h12M${px(base.x)} ${py(base.y) - 6}v12`} class="search-base" /><title>{t('the engine as it is')}</title></g>}
      </svg>
      {points.map((p) => <button type="button" key={p.i} class={'search-point' + (p.i === chosen ? ' chosen' : '')} style={{ left: `${100 * px(p.x) / WIDE}%`, top: `${100 * py(p.y) / HIGH}%` }} aria-pressed={p.i === chosen}
        aria-label={t('number {number}: {x}, {y}', { number: p.i + 1, x: withUnit(fx, p.x), y: withUnit(fy, p.y) })} onClick={() => onChoose(p.i)} />)}
      </div>
      <figcaption class="quiet">Each point is a combination that none beats in everything; the cross is the engine as it is.</figcaption>
    </figure>
  );
}

function Influences({ answer }: { answer: SearchAnswer }) {
  return (
    <section class="card" aria-label="What makes the difference"><h3>What makes the difference</h3>
      {answer.influence.map((one) => (
        <div key={one.figure}><p class="quiet">{figureName(one.figure)}</p>
          {answer.axes.map((axis, j) => ({ name: axis.name.replaceAll('_', ' '), share: one.with_others[j] ?? 0, alone: one.alone[j] ?? 0 })).filter((a) => a.share >= 0.02).sort((a, b) => b.share - a.share).map((a) => (
            <div class="search-share" key={a.name}><span>{a.name}</span><meter min={0} max={1} value={Math.min(a.share, 1)} aria-label={a.name} /><span class="num">{percent(a.share, 0)}</span></div>))}</div>))}
      <p class="quiet">Share of all that the figure varies by, over what may be changed; with what each does together with others.</p>
    </section>
  );
}

export function SearchFound({ answer, onOpen }: { answer: SearchAnswer; onOpen: (member: SearchMember) => void }) {
  const [chosen, setChosen] = useState(0);
  const now = answer.front[chosen], torque = answer.figures.find((f) => f.figure === 'torque' || f.figure === 'power'), apart = answer.difference_standard_uncertainty_share;
  const best = torque ? answer.front.reduce((most, m) => Math.max(most, m.figures[answer.figures.indexOf(torque)] ?? 0), 0) : 0;
  return (<>
    <p>{tn('One combination was run.', '{n} combinations were run.', answer.designs)} {answer.not_settled > 0 && tn('One of them did not settle.', '{n} of them did not settle.', answer.not_settled)} {answer.barred > 0 && tn('One was barred by a limit before it was run.', '{n} were barred by limits before they were run.', answer.barred)}</p>
    {answer.reasons.length > 0 && <details><summary>Why some did not settle</summary><ul>{answer.reasons.map((r) => <li key={r.reason}>{r.count}: {words(r.reason)}</li>)}</ul></details>}
    <Scatter answer={answer} chosen={chosen} onChoose={setChosen} />
    {now && <section class="card" aria-label="Chosen" aria-live="polite"><h3>{t('Number {number}', { number: chosen + 1 })}</h3>
      <ul class="search-chosen" translate={false}>{now.changes.map((c) => <li key={c}>{words(c).replaceAll('_', ' ')}</li>)}</ul>
      {now.held_by.length > 0 && <p>{t('Held by: {limits}. Loosen that limit, and it goes further.', { limits: now.held_by.map(figureName).join(', ') })}</p>}
      {!now.settled && <p class="warned">It did not settle on fine cells: its figures are not known.</p>}
      <p class="tools"><button type="button" onClick={() => onOpen(now)}>Open in Predict</button></p></section>}
    <div class="scroll" tabIndex={0}><table class="list"><thead><tr><th scope="col">Number</th>{answer.figures.map((f, k) => <th scope="col" class="num" key={k}>{headOf(f) + unitText(f)}</th>)}<th scope="col">Held by</th></tr></thead><tbody>
      <tr><th scope="row">as it is</th>{answer.figures.map((f, k) => <td class="num" key={k}>{cell(f, answer.as_it_is[k])}</td>)}<td>{!answer.as_it_is_settled && t('did not settle')}</td></tr>
      {answer.front.map((m, i) => <tr key={m.design} aria-current={i === chosen ? 'true' : undefined}><th scope="row"><button type="button" class="plain" aria-label={t('Choose number {number}', { number: i + 1 })} onClick={() => setChosen(i)}>{i + 1}</button></th>{answer.figures.map((f, k) => <td class="num" key={k}>{cell(f, m.figures[k])}</td>)}<td>{m.held_by.map(figureName).join(', ')}</td></tr>)}
    </tbody></table></div>
    {torque && apart != null && <p>{t('Two of them whose {figure} differs by less than {apart} cannot be told apart.', { figure: figureName(torque.figure), apart: quantity(torque.kind, 1.96 * apart * best, decimalsFor(1.96 * apart * Math.abs(shown(torque.kind, best) - shown(torque.kind, 0)))) })}</p>}
    <Influences answer={answer} />
    <p class="quiet">Predicted, not measured: it ranks, and permits nothing. Clearances are proved on the bench; spark and mixture on the dyno, from the safe side.</p>
  </>);
}
