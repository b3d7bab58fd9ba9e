/* The load cell calibrated at the cell, one step after the other; what is typed stays on this device until it is kept or let go, so that one
 * can stop and go on.
 *
 *   zero -> arm and weights, up and down -> what it gives, tried in the book and taken back -> kept
 *              ^---------- anything typed again takes the answer away ----------' */
import { useState } from 'preact/hooks';
import { api, Refusal, type LoadCell } from './api';
import { book, changes, complain, say, units } from './state';
import { useDraft } from './draft';
import { date, fixed, percent, quantity, words } from './format';
import { t, tn, tx } from './words';

interface Hung { mass: string; read: string }
interface Typed { arm: string; gravity: string; valid: string; note: string; hung: Hung[]; zeroed: boolean }
const EMPTY: Typed = { arm: '', gravity: '', valid: '', note: '', hung: [{ mass: '', read: '' }], zeroed: false };
const bare = (text: string) => /^[-+\u2212]?[\d.,]+$/.test(text.trim());
const withUnit = (text: string, unit: string) => bare(text) ? `${text.trim()} ${unit}` : text.trim();
const torque = (v: number) => quantity('torque', v, 2);

/* What hangs next is known once the way down has begun: the same weights back. */
function nextMass(hung: Hung[]): string {
  const masses = hung.map((h) => h.mass), n = masses.length, last = masses[n - 1] ?? '';
  const turn = masses.findIndex((m, i) => i > 0 && parseFloat(m) < parseFloat(masses[i - 1]!));
  if (turn < 0 || last === '') return '';
  return masses[turn - 1 - (n - turn) - 1] ?? '';
}

function Step({ n, title, now, done, children }: { n: number; title: string; now: boolean; done: boolean; children: preact.ComponentChildren }) {
  return <li class={'calibration-step' + (now ? ' now' : '') + (done ? ' done' : '')} aria-current={now ? 'step' : undefined}><h2><span class="step-number" aria-hidden="true">{done ? '✓' : n}</span> {title}</h2>{children}</li>;
}

function Zero({ typed, set }: { typed: Typed; set: (next: Partial<Typed>) => void }) {
  const [read, setRead] = useDraft('load-cell-zero', '');
  const [reset, setReset] = useState(false);
  const unit = units.value === 'us' ? 'lb-ft' : 'N·m';
  const keep = (e: Event) => {
    e.preventDefault();
    api.calibrate({ kind: 'zero', read: withUnit(read, unit), note: '', ...(reset ? { left: `0 ${unit}` } : {}) }).then((r) => {
      say(r.charts[0]!.in_control ? t('Kept: {what}.', { what: t('zero') }) : t('OUT OF CONTROL: {what}. Find out why before the next pull.', { what: t('zero') }));
      changes.value++; setRead(''); set({ zeroed: true });
    }, complain);
  };
  return (<>
    <p>Engine stopped, shaft free, calibration arm off: what does the load cell read?</p>
    <form class="line-form" onSubmit={keep}><label>{t('Without load, {unit}', { unit })} <input required value={read} placeholder="0.3" onInput={(e) => setRead(e.currentTarget.value)} /></label><label class="tick"><input type="checkbox" checked={reset} onChange={(e) => setReset(e.currentTarget.checked)} /> {t('Then set to zero')}</label><button type="submit">Keep the zero</button>{!typed.zeroed && <button type="button" class="plain" onClick={() => set({ zeroed: true })}>Already done today</button>}</form>
  </>);
}

function Weights({ typed, set, wrong }: { typed: Typed; set: (next: Partial<Typed>) => void; wrong: { field: string; says: string } | null }) {
  const us = units.value === 'us', mass = us ? 'lb' : 'kg', read = us ? 'lb-ft' : 'N·m';
  const put = (i: number, key: keyof Hung) => (e: { currentTarget: HTMLInputElement }) => { const text = e.currentTarget.value; set({ hung: typed.hung.map((h, k) => k === i ? { ...h, [key]: text } : h) }); };
  const says = (field: string) => wrong?.field === field ? <span class="problem over" role="alert">{wrong.says}</span> : null;
  const way = (i: number) => i === 0 || typed.hung[i]!.mass === '' ? '' : parseFloat(typed.hung[i]!.mass) < parseFloat(typed.hung[i - 1]!.mass) ? t('unloading') : t('loading');
  return (<>
    <p>Arm on and level. Hang the weights one after the other up to the largest, then take them off again, and write down each reading once it stands still; the bare arm with its hanger is the first.</p>
    <div class="stack"><label>{t('Length of the arm, {unit}', { unit: us ? 'in' : 'mm' })} <input required value={typed.arm} placeholder={us ? '20' : '500'} aria-invalid={wrong?.field === 'arm' ? 'true' : undefined} onInput={(e) => set({ arm: e.currentTarget.value })} /></label>{says('arm')}</div>
    <table class="list hung"><thead><tr><th scope="col" class="num" aria-label="Row" /><th scope="col">{t('Hangs, {unit}', { unit: mass })}</th><th scope="col">{t('Reads, {unit}', { unit: read })}</th><th scope="col" aria-label="up or down" /><th scope="col" aria-label="take the row out" /></tr></thead>
      <tbody>{typed.hung.map((h, i) => <tr key={i}><th scope="row" class="num">{i + 1}</th>
        <td><input aria-label={t('Weight {n}, {unit}', { n: i + 1, unit: mass })} inputMode="decimal" value={h.mass} aria-invalid={wrong?.field === `weights.${i + 1}.mass` ? 'true' : undefined} onInput={put(i, 'mass')} />{says(`weights.${i + 1}.mass`)}</td>
        <td><input aria-label={t('Reading {n}, {unit}', { n: i + 1, unit: read })} inputMode="decimal" value={h.read} aria-invalid={wrong?.field === `weights.${i + 1}.read` ? 'true' : undefined} onInput={put(i, 'read')} />{says(`weights.${i + 1}.read`)}</td>
        <td class="quiet">{way(i)}</td><td>{typed.hung.length > 1 && <button type="button" class="plain" aria-label={t('Take out row {n}', { n: i + 1 })} onClick={() => set({ hung: typed.hung.filter((_h, k) => k !== i) })}>×</button>}</td></tr>)}</tbody></table>
    <p class="tools"><button type="button" onClick={() => set({ hung: [...typed.hung, { mass: nextMass(typed.hung), read: '' }] })}>Next weight</button></p>
    <details class="more-fields"><summary>Gravity, how long it holds, remark</summary><div class="stack">
      <label>Local gravity, m/s2 <input value={typed.gravity} placeholder="9.80665" onInput={(e) => set({ gravity: e.currentTarget.value })} /></label>{says('gravity')}
      <label>Holds for <input value={typed.valid} placeholder={t('90 d')} onInput={(e) => set({ valid: e.currentTarget.value })} /></label>{says('valid')}
      <label>Remark <input maxLength={200} value={typed.note} placeholder={t('as found, as left, who')} onInput={(e) => set({ note: e.currentTarget.value })} /></label></div></details>
  </>);
}

/* How far each reading lies from the line, the largest of them as wide as the box: loading and unloading are told apart by side. */
function Off({ gives }: { gives: LoadCell }) {
  const most = Math.max(...gives.hung.map((p) => Math.abs(p.off_n_m)), 1e-9), x = (v: number) => 50 + 46 * v / most;
  return (
    <table class="list"><thead><tr><th scope="col" class="num">Hung</th><th scope="col" class="num">Read</th><th scope="col" class="num">Off the line</th><th scope="col" class="bar-cell" aria-label="as a bar" /></tr></thead>
      <tbody>{gives.hung.map((p, i) => <tr key={i}><td class="num">{torque(p.applied_n_m)}</td><td class="num">{torque(p.read_n_m)}</td><td class="num">{torque(p.off_n_m)}</td>
        <td class="bar-cell"><svg class="band" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true"><rect class="track" y="4" width="100" height="2" /><rect class="used" x={Math.min(50, x(p.off_n_m))} y="2" width={Math.max(Math.abs(x(p.off_n_m) - 50), .6)} height="6" /></svg></td></tr>)}</tbody></table>
  );
}

function Gives({ gives }: { gives: LoadCell }) {
  const share = (v: number) => gives.largest_n_m > 0 ? percent(v / gives.largest_n_m, 2) : '';
  const moved = gives.gain_change;
  return (<>
    <p class="big figure">{fixed(gives.gain, 5)} <span class="quiet">± {fixed(2 * gives.gain_standard_uncertainty, 5)}</span></p>
    <p class="quiet">Torque is this times the reading, and then:</p>
    <dl class="facts">
      <div><dt>Without load</dt><dd>{torque(gives.offset_n_m)} <span class="quiet">± {torque(2 * gives.offset_standard_uncertainty_n_m)}</span></dd></div>
      <div><dt>Furthest off the line</dt><dd>{torque(gives.linearity_n_m)} <span class="quiet">{t('{share} of the largest', { share: share(gives.linearity_n_m) })}</span></dd></div>
      <div><dt>Loading against unloading</dt><dd>{torque(gives.hysteresis_n_m)} <span class="quiet">{t('{share} of the largest', { share: share(gives.hysteresis_n_m) })}</span></dd></div>
      <div><dt>Against what was in force</dt><dd class={gives.good ? '' : 'grave-word'}>{moved == null ? '–' : percent(moved, 2, true)} <span class="quiet">{t('limit ± {limit}', { limit: percent(gives.limit, 1) })}</span></dd></div>
    </dl>
    <Off gives={gives} />
    {gives.held.length > 0
      ? <p class="said grave">{tn('{n} pull since the last good check was computed with the former figure: it would be held, and nothing would use it until you say whether it is right or amend it. Pull {pulls}.', '{n} pulls since the last good check were computed with the former figure: they would be held, and nothing would use them until you say whether they are right or amend them. Pulls {pulls}.', gives.held.length, { pulls: gives.held.slice(0, 30).join(', ') + (gives.held.length > 30 ? ' …' : '') })}</p>
      : <p>No pull in the book is put in doubt by it.</p>}
    <p class="quiet">± at 95 %.</p>
  </>);
}

export function CalibrateScreen() {
  const [typed, setTyped] = useDraft<Typed>('load-cell', EMPTY);
  const [gives, setGives] = useState<LoadCell | null>(null);
  const [why, setWhy] = useState<string | null>(null);
  const [wrong, setWrong] = useState<{ field: string; says: string } | null>(null);
  const [busy, setBusy] = useState(false);
  const set = (next: Partial<Typed>) => { setTyped((old) => ({ ...old, ...next })); setGives(null); setWhy(null); setWrong(null); };
  const us = units.value === 'us', filled = typed.hung.filter((h) => h.mass.trim() !== '' || h.read.trim() !== '');
  const ask = (keep: boolean) => {
    setBusy(true);
    const asked = { arm: withUnit(typed.arm, us ? 'in' : 'mm'), gravity: typed.gravity.trim(), valid: bare(typed.valid) ? `${typed.valid.trim()} d` : typed.valid.trim(), note: typed.note.trim(),
      weights: filled.map((h) => ({ mass: withUnit(h.mass, us ? 'lb' : 'kg'), read: withUnit(h.read, us ? 'lb-ft' : 'N·m') })) };
    api.loadCell(asked, keep).then((r) => {
      setWhy(null); setWrong(null);
      if (!r.kept) { setGives(r); return; }
      say(r.held.length ? tn('The calibration is kept until {day}; {n} pull is held until it is answered.', 'The calibration is kept until {day}; {n} pulls are held until each is answered.', r.held.length, { day: date(r.valid_until) }) : t('The calibration is kept: it holds until {day}.', { day: date(r.valid_until) }));
      setTyped(EMPTY); setGives(null); changes.value++;
    }, (problem: unknown) => {
      setGives(null);
      const says = problem instanceof Error ? problem.message : String(problem), field = problem instanceof Refusal ? problem.field : null;
      setWhy(says); setWrong(field ? { field, says } : null);
    }).finally(() => setBusy(false));
  };
  const begun = JSON.stringify(typed) !== JSON.stringify(EMPTY), ready = typed.arm.trim() !== '' && filled.length > 0, writes = book.value?.may_write ?? false;
  return (
    <div class="calibrate">
      <header class="headline"><div><h1>Calibrate the load cell</h1><p class="quiet">{begun ? t('What is typed here stays on this device: you can stop and go on later.') : t('Four steps, about a quarter of an hour.')}</p></div>
        <div class="tools">{begun && <button type="button" onClick={() => { const was = typed; setTyped(EMPTY); setGives(null); setWhy(null); setWrong(null); say(t('The entries are put away.'), () => { setTyped(was); }); }}>Begin again</button>}<a class="button" href="#/shop">Back to the shop</a></div></header>
      <p class="said caution-line"><span>{tx('Hang weights with the engine stopped and the shaft free, nobody under them; {first}', { first: <b>the dyno maker's procedure comes first.</b> })}</span></p>
      <ol class="calibration-steps">
        <Step n={1} title={t('Zero')} now={!typed.zeroed} done={typed.zeroed}><Zero typed={typed} set={set} /></Step>
        <Step n={2} title={t('Arm and weights')} now={typed.zeroed && !gives} done={gives != null}><Weights typed={typed} set={set} wrong={wrong} /></Step>
        <Step n={3} title={t('What it gives')} now={gives != null} done={false}>
          <p class="tools"><button type="button" disabled={!ready || busy || !writes} onClick={() => ask(false)}>{busy ? t('working it out…') : t('Work it out')}</button><span class="quiet">Nothing is kept by it.</span></p>
          {why && <p class="said grave" role="alert">{words(why)}</p>}
          {gives && <Gives gives={gives} />}
        </Step>
        <Step n={4} title={t('Keep it')} now={false} done={false}>
          <p>{gives ? t('From then on it is applied to the raw of every pull, until {day} or the next one.', { day: date(gives.valid_until) }) : t('Once it has been worked out.')}</p>
          <p class="tools"><button type="button" disabled={!gives || busy || !writes} onClick={() => ask(true)}>Keep this calibration</button></p>
        </Step>
      </ol>
    </div>
  );
}
