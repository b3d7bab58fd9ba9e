/* Of a build: checklists, parts that are due, and which piston goes into which bore. */
import { useRef, useState } from 'preact/hooks';
import { api, type BuildBegun, type BuildPairing } from './api';
import { useAsked } from './answered';
import { changes, units } from './state';
import { stamp } from './clock';
import { useDraft } from './draft';
import { duration, fixed, percent, quantity, rpm } from './format';
import { keep } from './queue';
import { t, tn } from './words';

type Step = BuildBegun['steps'][number];

/* Done is one tap; what failed or does not apply says why, as the record wants it. */
function Tick({ step, away }: { step: Step; away: boolean }) {
  const [{ asks, why }, setTold] = useDraft<{ asks: 'failed' | 'does not apply' | null; why: string }>(`tick-${step.list}-${step.step}`, { asks: null, why: '' });
  const last_ms = useRef(-Infinity), BOUNCE_MS = 600; /* the second of a double tap ticks nothing again */
  const setAsks = (next: typeof asks) => { setTold((old) => ({ why: next ? old.why : '', asks: next })); };
  const tick = (state: string, note = '') => { if (performance.now() - last_ms.current < BOUNCE_MS) return; last_ms.current = performance.now(); keep('done', { list: step.list, step: step.step, state, at: stamp(), ...(note ? { note } : {}) }); setAsks(null); };
  return (
    <li class={step.state.replaceAll(' ', '-')}>
      <span>{step.step}{step.before && step.before !== 'none' ? <span class="quiet"> {t('before {stage}', { stage: step.before.replaceAll('_', ' ') })}</span> : null}{step.caution && <span class="caution">{step.caution}</span>}</span>
      {away ? <span class="quiet">{step.state}</span> : <span class="tick-buttons">
        <button type="button" aria-pressed={step.state === 'done'} onClick={() => { tick('done'); }}>Done</button>
        <button type="button" aria-pressed={step.state === 'failed'} aria-expanded={asks === 'failed'} onClick={() => { setAsks('failed'); }}>Failed</button>
        <button type="button" aria-pressed={step.state === 'does not apply'} aria-expanded={asks === 'does not apply'} onClick={() => { setAsks('does not apply'); }}>Not here</button>
      </span>}
      {asks && <form class="line-form" onSubmit={(e) => { e.preventDefault(); tick(asks, why.trim()); }}>
        <label>{asks === 'failed' ? t('What is wrong') : t('Why it does not apply')} <input required maxLength={300} value={why} onInput={(e) => { const text = e.currentTarget.value; setTold((old) => ({ ...old, why: text })); }} /></label>
        <button type="submit">Keep</button><button type="button" class="plain" onClick={() => { setAsks(null); }}>Leave it</button></form>}
    </li>
  );
}

export function Steps({ build, away }: { build: BuildBegun; away: boolean }) {
  const lists = [...new Set(build.steps.map((s) => s.list))];
  return (
    <section class="card"><h2>Checklists</h2>
      {lists.map((list) => {
        const steps = build.steps.filter((s) => s.list === list), open = steps.filter((s) => s.state === 'open' || s.state === 'failed').length;
        return (
          <details key={list} class="item"><summary><b>{list}</b> <span class="quiet">{open ? t('{n} of {all} open', { n: open, all: steps.length }) : t('all done')}</span></summary>
            <ul class="ticks">{steps.map((s) => <Tick key={s.step} step={s} away={away} />)}</ul>
          </details>
        );
      })}
    </section>
  );
}

/* Running time against the life of each part that has one: the makers' or the shop's figure, and what a part looks like comes first. */
export function Due({ engine }: { engine: string }) {
  const { answer, why } = useAsked(`build-due-${engine}`, () => api.buildDue(engine), [changes.value]);
  if (!answer) return why ? <section class="card"><h2>Due</h2><p class="quiet">{why}</p></section> : null;
  const parts = [...answer.parts].sort((a, b) => (b.share ?? 0) - (a.share ?? 0));
  return (
    <section class="card"><h2>Due</h2>
      <p>{[t('{time} recorded', { time: duration(answer.running_recorded_s) }), answer.running_told_s > 0 ? t('{time} reported', { time: duration(answer.running_told_s) }) : '', answer.runs_told > 0 ? tn('{n} run reported', '{n} runs reported', answer.runs_told) : ''].filter(Boolean).join(', ')}</p>
      {parts.length === 0 ? <p class="quiet">No part says after how much running it is due.</p> :
        <table class="list"><tbody>{parts.map((p) => <tr key={p.part + (p.position ?? '')}><th scope="row" translate={false}>{p.part} {p.position}</th>
          <td class="bar-cell"><svg class={'band ' + (p.due ? 'out' : (p.share ?? 0) > .8 ? 'near' : '')} viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true"><rect class="track" y="4" width="100" height="2" /><rect class="used" y="2.5" width={Math.min(100 * (p.share ?? 0), 100)} height="5" /></svg></td>
          <td class="num">{percent(p.share, 0)}</td><td class={p.due ? 'grave-word' : 'quiet'}>{p.due ? t('due') : [p.life_s != null ? t('{used} of {life}', { used: duration(p.used_s ?? 0), life: duration(p.life_s) }) : '', p.life_above_s != null ? t('{used} of {life} above {speed} rpm', { used: duration(p.above_s ?? 0), life: duration(p.life_above_s), speed: rpm(p.life_speed_rpm) }) : ''].filter(Boolean).join(', ')}</td></tr>)}</tbody></table>}
      <p class="quiet">Lives are the shop's or the maker's figures; what a part looks like comes first.</p>
    </section>
  );
}

export function Pairing({ engine }: { engine: string }) {
  const [clearance, setClearance] = useDraft('pairing-clearance', '');
  const [answer, setAnswer] = useState<BuildPairing | null>(null);
  const [why, setWhy] = useState<string | null>(null);
  const length = (m: number) => quantity('length', m, units.value === 'us' ? 4 : 3);
  const unit = units.value === 'us' ? 'in' : 'mm', typed = clearance.trim();
  const ask = (e: Event) => {
    e.preventDefault();
    api.buildPairing(engine, /^[\d.,]+$/.test(typed) ? `${typed} ${unit}` : typed).then((r) => { setAnswer(r); setWhy(null); }, (problem: Error) => { setAnswer(null); setWhy(problem.message); });
  };
  return (
    <section class="card"><h2>Pistons to bores</h2>
      <form class="line-form" onSubmit={ask}><label>{t('Clearance wanted, {unit}', { unit })} <input value={clearance} placeholder={t('the middle of the target')} onInput={(e) => { setClearance(e.currentTarget.value); setAnswer(null); }} /></label><button type="submit">Pair them</button></form>
      {why && <p class="problem" role="alert">{why}</p>}
      {answer && <><p role="status">{t('Greatest distance from {wanted}: {worst}; each in the bore of its number {numbered}.', { wanted: length(answer.wanted_clearance_m), worst: length(answer.greatest_deviation_m), numbered: length(answer.greatest_deviation_as_numbered_m) })}</p>
        <table class="list"><thead><tr><th scope="col" class="num">Bore</th><th scope="col" class="num">Piston</th><th scope="col" class="num">Clearance</th><th scope="col" class="num">as numbered</th></tr></thead>
          <tbody>{answer.pairs.map((p) => <tr key={p.bore}><td class="num">{fixed(p.bore, 0)}</td><td class="num">{fixed(p.piston, 0)}</td><td class="num">{length(p.clearance_m)}</td><td class="num quiet">{length(p.as_numbered_m)}</td></tr>)}</tbody></table></>}
      <p class="quiet">From bores and pistons as measured; weights and the piston maker's marking come first.</p>
    </section>
  );
}
