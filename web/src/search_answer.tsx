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
const band = (from: number, to: number) => from === to ? t('at {speed}', { speed: rpm(from) }) : t('{from} to {to}', { from: rpm(from), to: rpm(to) });
const headOf = (f: Figure) => figureName(f.figure) + (f.from_rpm != null && f.to_rpm != null ? ' ' + band(f.from_rpm, f.to_rpm) : '');
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

const ACROSS = 86, DEEP = 220, HEAD = 118, FOOT = 34, LEAN = 96; /* names lean out over the last upright */
/* All rows over all that is asked for and all that may be turned: a line a row, each upright by its own span. */
function Parallel({ answer, chosen, onChoose }: { answer: SearchAnswer; chosen: number; onChoose: (i: number) => void }) {
  const now = answer.front[chosen];
  const uprights = [
    ...answer.figures.map((f, k) => {
      const all = answer.front.map((m) => m.figures[k]).filter((y): y is number => y != null), low = Math.min(...all), high = Math.max(...all);
      return { name: headOf(f) + unitText(f), at: (m: SearchMember) => m.figures[k] == null ? null : high > low ? ((m.figures[k] as number) - low) / (high - low) : 0.5, says: (m: SearchMember) => cell(f, m.figures[k]) };
    }),
    ...answer.axes.map((a, j) => ({ name: a.name.replaceAll('_', ' '), at: (m: SearchMember) => m.at[j] ?? null, says: (m: SearchMember) => words((m.changes[j] ?? '').slice(a.name.length + 1)) }))];
  const wide = ACROSS * uprights.length + LEAN, x = (i: number) => ACROSS * (i + 0.5), y = (share: number) => HEAD + (1 - share) * DEEP;
  const lineOf = (m: SearchMember) => uprights.map((u, i) => ({ x: x(i), at: u.at(m) })).filter((p): p is { x: number; at: number } => p.at != null).map((p, i) => `${i ? 'L' : 'M'}${p.x} ${y(p.at)}`).join('');
  if (answer.front.length < 2 || !now) return null;
  return (
    <figure class="search-plot"><div class="scroll" tabIndex={0} role="region" aria-label={t('All rows over all that was asked')}>
      <svg width={wide} height={HEAD + DEEP + FOOT} role="img" aria-label={t('A line for each row, over what is asked for and what may be changed')}>
        {uprights.map((u, i) => <g key={u.name}><path d={`M${x(i)} ${HEAD}v${DEEP}`} class="search-axis" /><text x={x(i)} y={HEAD - 10} transform={`rotate(-28 ${x(i)} ${HEAD - 10})`} class="search-tick">{u.name}</text><text x={x(i)} y={HEAD + DEEP + 20} class="search-label">{u.says(now)}</text></g>)}
        {answer.front.map((m, i) => i === chosen ? null : <path key={m.design} d={lineOf(m)} class="search-line" onClick={() => onChoose(i)} />)}
        <path d={lineOf(now)} class="search-line chosen" />
      </svg></div>
      <figcaption class="quiet">{t('Number {number} is the thick line; its figures are at the foot. Left what is asked for, from the least to the most of the rows; right what may be changed, over its whole range.', { number: chosen + 1 })}</figcaption>
    </figure>
  );
}

function Envelope({ answer, chosen }: { answer: SearchAnswer; chosen: number }) {
  const now = answer.front[chosen], corners = answer.envelope;
  if (!corners || !now?.corners) return null;
  const beyond = (k: number, y: number | null | undefined) => { const f = answer.figures[k]; return !!f && y != null && ((f.least != null && y < f.least) || (f.most != null && y > f.most)); };
  return (
    <section class="card" aria-label={t('At the corners of what it must stand')}><h3>{t('Number {number}, at the corners of what it must stand', { number: chosen + 1 })}</h3>
      <p>{now.stays_best ? t('It stays among the best at each.') : now.stands ? t('It keeps all limits, but at one of them another is better in everything wanted.') : t('It breaks a limit, or does not settle, at one of them.')}</p>
      <div class="scroll" tabIndex={0}><table class="list"><thead><tr><th scope="col">Corner</th>{answer.figures.map((f, k) => <th scope="col" class="num" key={k}>{headOf(f) + unitText(f)}</th>)}</tr></thead><tbody>
        {corners.map((c, i) => <tr key={c}><th scope="row">{words(c).replaceAll('_', ' ')}</th>{answer.figures.map((f, k) => { const y = now.corners?.[i]?.[k]; return <td class="num" key={k}>{beyond(k, y) ? <strong class="warned">{t('{figure}, beyond the limit', { figure: cell(f, y) })}</strong> : cell(f, y)}</td>; })}</tr>)}
      </tbody></table></div>
    </section>
  );
}

function Influences({ answer }: { answer: SearchAnswer }) {
  return (
    <section class="card" aria-label="What makes the difference"><h3>What makes the difference</h3>
      {answer.influence.map((one) => (
        <div key={one.figure}><p class="quiet">{figureName(one.figure)}</p>
          {answer.axes.map((axis, j) => ({ name: axis.name.replaceAll('_', ' '), share: one.with_others[j] ?? 0, alone: one.alone[j] ?? 0 })).filter((a) => a.share >= 0.02).sort((a, b) => b.share - a.share).map((a) => (
            <div class="search-share" key={a.name}><span>{a.name}</span><meter min={0} max={1} value={Math.min(a.share, 1)} aria-label={a.name} /><span class="num">{percent(a.share, 0)}</span></div>))}</div>))}
      <p class="quiet">Share of all that the figure varies by, over what may be changed; with what each does together with others: that counts for both, so the shares may add up to more than 100 %.</p>
    </section>
  );
}

export function SearchFound({ answer, onOpen }: { answer: SearchAnswer; onOpen: (member: SearchMember) => void }) {
  const [chosen, setChosen] = useState(0);
  const now = answer.front[chosen];
  const apart = answer.figures.map((f, k) => ({ f, by: 1.96 * (answer.difference_standard_uncertainty[k] ?? NaN) })).filter((d) => d.by > 0)
    .map((d) => `${figureName(d.f.figure)} ${quantity(d.f.kind, d.by, decimalsFor(Math.abs(shown(d.f.kind, d.by) - shown(d.f.kind, 0))))}`);
  return (<>
    <p>{tn('One combination was run.', '{n} combinations were run.', answer.designs)} {answer.not_settled > 0 && tn('One of them did not settle.', '{n} of them did not settle.', answer.not_settled)} {answer.barred > 0 && tn('One was barred by a limit before it was run.', '{n} were barred by limits before they were run.', answer.barred)}</p>
    {answer.reasons.length > 0 && <details><summary>Why some did not settle</summary><ul>{answer.reasons.map((r) => <li key={r.reason}>{r.count}: {words(r.reason)}</li>)}</ul></details>}
    <Scatter answer={answer} chosen={chosen} onChoose={setChosen} />
    <Parallel answer={answer} chosen={chosen} onChoose={setChosen} />
    {now && <section class="card" aria-label="Chosen" aria-live="polite"><h3>{t('Number {number}', { number: chosen + 1 })}</h3>
      <ul class="search-chosen" translate={false}>{now.changes.map((c) => <li key={c}>{words(c).replaceAll('_', ' ')}</li>)}</ul>
      {now.alike > 1 && <p>{tn('One combination is in this row.', '{n} combinations that cannot be told apart share this row; they lie in:', now.alike)} <span translate={false}>{now.ranges.map((r) => words(r).replaceAll('_', ' ')).join(', ')}</span></p>}
      {now.at_end.length > 0 && <p>{t('At an end of its range: {fields}. A wider one may have better.', { fields: now.at_end.join(', ').replaceAll('_', ' ') })}</p>}
      {now.beyond.length > 0 ? <p class="warned">{t('On fine cells it is beyond the limit on {limits}.', { limits: now.beyond.map(figureName).join(', ') })}</p> : now.held_by.length > 0 && <p>{t('Held by: {limits}. Loosen that limit, and it goes further.', { limits: now.held_by.map(figureName).join(', ') })}</p>}
      {!now.settled && <p class="warned">It did not settle on fine cells: its figures are not known.</p>}
      <p class="tools"><button type="button" onClick={() => onOpen(now)}>Open in Predict</button></p></section>}
    <div class="scroll" tabIndex={0}><table class="list"><thead><tr><th scope="col">Number</th>{answer.figures.map((f, k) => <th scope="col" class="num" key={k}>{headOf(f) + unitText(f)}</th>)}<th scope="col">Held by</th></tr></thead><tbody>
      <tr><th scope="row">as it is</th>{answer.figures.map((f, k) => <td class="num" key={k}>{cell(f, answer.as_it_is[k])}</td>)}<td>{!answer.as_it_is_settled ? t('did not settle') : answer.as_it_is_beyond.length > 0 && t('beyond the limit on {limits}', { limits: answer.as_it_is_beyond.map(figureName).join(', ') })}</td></tr>
      {answer.front.map((m, i) => <tr key={m.design} aria-current={i === chosen ? 'true' : undefined}><th scope="row"><button type="button" class="plain" aria-label={t('Choose number {number}', { number: i + 1 })} onClick={() => setChosen(i)}>{i + 1}</button></th>{answer.figures.map((f, k) => <td class="num" key={k}>{cell(f, m.figures[k])}</td>)}<td>{m.held_by.map(figureName).join(', ')}</td></tr>)}
    </tbody></table></div>
    <Envelope answer={answer} chosen={chosen} />
    {apart.length > 0 && <p>{t('Two rows are told apart (95 %) from these differences on: {differences}.', { differences: apart.join(', ') })}</p>}
    <Influences answer={answer} />
    <p class="quiet">Predicted, not measured: it ranks, and permits nothing. Clearances are proved on the bench; spark and mixture on the dyno, from the safe side.</p>
  </>);
}
