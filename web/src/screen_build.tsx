/* Build: what is measured next and whether that was right, then all that was agreed, tightened, fitted, seen and ticked off; and lash at the
 * engine, for thumbs. */
import { useState } from 'preact/hooks';
import { api, type Build, type BuildBegun } from './api';
import { book, changes, complain, route, say, units } from './state';
import { fixed, shown, unitOf, words } from './format';
import { Photos } from './photos';
import { keep, refused, waiting } from './queue';
import { useQuestion } from './answered';
import { Waiting } from './waiting';
import { stamp } from './clock';
import { useDraft } from './draft';
import { Refused } from './notes';
import { reloadsAlone } from './kept';
import { Measurements } from './build_measure';
import { Kept, Readings } from './build_kept';
import { Due, Pairing, Steps } from './build_more';
import { t, tn, tx } from './words';

const nowText = stamp;

/* `engine`: "" for the one in the cell. */
function useBuild(engine: string): { answer: Build | null; why: string | null } {
  const system = units.value;
  return useQuestion(`build-${system}${engine ? '-' + engine : ''}`, () => api.build(system, engine), [changes.value]);
}

const mm = (v: number | null) => v == null ? '–' : fixed(shown('length', v), units.value === 'us' ? 4 : 2);

function LashTable({ build, away }: { build: BuildBegun; away: boolean }) {
  return (
    <section class="card"><h2>{t('Lash, {unit}', { unit: unitOf('length') })}</h2>
      <div tabIndex={0} class="scroll"><table class="list lash-rows"><thead><tr><th scope="col">Valve</th><th scope="col" class="num">Card, hot</th><th scope="col" class="num">Cold</th><th scope="col" class="num">Hot</th><th scope="col" class="num">Growth</th><th scope="col" class="num">Change</th></tr></thead>
        <tbody>{build.lash.map((r) => <tr key={r.valve}><th scope="row">{r.valve}</th><td class="num">{mm(r.wanted_hot_m)}</td><td class="num">{mm(r.cold_m)}</td><td class="num">{mm(r.hot_m)}</td><td class="num">{mm(r.growth_m)}</td><td class={'num' + (r.stop ? ' grave-word' : '')}>{mm(r.change_m)}{r.stop ? ' ' + t('stop and look') : ''}</td></tr>)}</tbody></table></div>
      {!away && <p class="tools"><a class="button" href="#/lash">Read lash at the engine</a></p>}
    </section>
  );
}

type Offers = Extract<Build, { begun: false }>['offers'];
function Begin({ engine, offers }: { engine: string | undefined; offers: Offers }) {
  const [facts, setFacts] = useDraft('build-begin', { build: t('first build'), family: '', block: '', head: '', rocker: '' });
  const submit = (e: Event) => {
    e.preventDefault();
    const given = Object.fromEntries(Object.entries(facts).filter(([, v]) => v !== ''));
    api.buildStart({ ...given, at: nowText() }).then(() => { say(t('The build record begins, with targets and checklists to start from.')); changes.value++; }, complain);
  };
  if (!engine) return <section class="first"><h1>No engine yet</h1><p class="lead">{tx('A build belongs to an engine: {begin}.', { begin: <a href="#/engine">begin one</a> })}</p></section>;
  return (
    <section class="first"><h1 translate={false}>{t('Build of {engine}', { engine })}</h1><p class="lead">Targets and checklists to begin with are common practice, for the shop to edit; the makers' figures go before them.</p>
      <form class="stack card" onSubmit={submit}>
        {(Object.keys(facts) as (keyof typeof facts)[]).map((key) => <label key={key}>{key !== 'build' && <datalist id={`begin-${key}`}>{offers?.[key].map((one) => <option key={one} value={t(one)} />)}</datalist>}{({ build: t('Name of the build'), family: t('Family'), block: t('Block'), head: t('Heads'), rocker: t('Rockers') })[key]} <input list={`begin-${key}`} value={facts[key]} placeholder={({ build: '', family: t('tag that like engines share'), block: t('iron'), head: t('aluminium'), rocker: t('steel shaft') })[key]} onInput={(e) => { const v = e.currentTarget.value; setFacts((f) => ({ ...f, [key]: v })); }} /></label>)}
        <button type="submit">Begin the record</button>
      </form>
    </section>
  );
}

export function BuildScreen() {
  const engine = route.value.query.get('engine') ?? '', { answer: build, why } = useBuild(engine), away = engine !== '' && engine !== book.value?.engine;
  if (!build) return <Waiting says="Reading the build…" why={why} />;
  if (!build.begun && away) return <section class="first"><h1 translate={false}>{engine}</h1><p class="lead">{tx('No build record of this engine yet. One begins when it is {put}.', { put: <a href="#/shop">put in the cell</a> })}</p></section>;
  if (!build.begun) return <Begin engine={build.engine} offers={build.offers} />;
  const dangers = build.findings.filter((f) => f.severity === 'danger'), others = build.findings.filter((f) => f.severity !== 'danger');
  return (
    <div class="build">
      <header class="headline"><h1 translate={false}>{t('Build of {engine}', { engine: build.engine ?? '' })}</h1>{!away && <a class="button" href="#/lash">Read lash at the engine</a>}</header>
      {away && <p class="quiet">{tx('This engine is not in the cell: its record can be read here. {put} to go on with it.', { put: <a href="#/shop">Put it in the cell</a> })}</p>}
      <Refused list={refused.value.filter((r) => r.kind === 'done')} />
      {dangers.length > 0 && <ul class="mind first-of-all">{dangers.map((f) => <li key={f.text} class={f.severity}><b>{t(f.severity)}</b> {words(f.text)}</li>)}</ul>}
      <div class="columns two">
        <Measurements build={build} away={away} />
        {others.length > 0 && <section class="card"><details class="item"><summary><h2>What to look at</h2> <span class="quiet">{tn('{n} thing', '{n} things', others.length)}</span></summary><ul class="mind">{others.map((f) => <li key={f.text} class={f.severity}><b>{t(f.severity)}</b> {words(f.text)}</li>)}</ul></details></section>}
        <Steps build={build} away={away} /><LashTable build={build} away={away} />
        <Kept of="torques" build={build} away={away} /><Kept of="parts" build={build} away={away} /><Due engine={engine} /><Kept of="seen" build={build} away={away} /><Pairing engine={engine} />
        <Kept of="agreed" build={build} away={away} />{!away && <Readings build={build} />}
        {!away && <Photos of="build" heading="Photos and files" places={[...new Set([...build.measurements.map((m) => m.item), ...build.steps.map((s) => s.step)])]} />}
      </div>
    </div>
  );
}

/* ---- at the engine ---- */

function order(build: BuildBegun): { valve: string; crank: string }[] {
  const list: { valve: string; crank: string }[] = [];
  for (const stop of build.walk) {
    const turn = stop.turn_deg ? t('turn {angle}° on', { angle: fixed(stop.turn_deg, 0) }) + '; ' : '';
    const where = turn + (stop.companion ? t('cylinder {firing} at firing dead centre, {companion} rocks', { firing: stop.firing, companion: stop.companion }) : t('cylinder {firing} at firing dead centre', { firing: stop.firing }));
    for (const valve of stop.valves) list.push({ valve, crank: where });
  }
  for (const valve of build.valves) if (!list.some((v) => v.valve === valve)) list.push({ valve, crank: '' });
  return list;
}

export function LashScreen() {
  const { answer: build, why } = useBuild('');
  /* Where somebody was, and of which stage, outlives a reload: a reading filed under another stage is a wrong one. Another day begins anew. */
  const today = stamp().slice(0, 10), first = { at: 0, hot: true, stage: 'run-in', day: '' }, [kept, setPlace] = useDraft('lash-place', first);
  const { at, hot, stage } = kept.day === today ? kept : first;
  const place = (next: Partial<typeof first>) => { setPlace({ at, hot, stage, ...next, day: today }); };
  const [minutes, setMinutes] = useState('5');
  const [gauge, setGauge] = useState<{ valve: string; steps: number } | null>(null);
  if (!build) return <Waiting says="Reading the build…" why={why} />;
  if (!build.begun) return <Begin engine={build.engine} offers={build.offers} />;
  const us = units.value === 'us', step = us ? 0.001 : 0.01, unit = us ? 'in' : 'mm', places = us ? 3 : 2;
  const list = order(build), here = list[Math.min(at, list.length - 1)]!;
  const steps = gauge?.valve === here.valve ? gauge.steps : null; /* of this valve: another tab may have walked on */
  const setSteps = (next: number | null) => { setGauge(next === null ? null : { valve: here.valve, steps: next }); };
  const row = build.lash.find((r) => r.valve === here.valve);
  const pending = waiting.value.filter((w) => w.kind === 'lash' && w.record['stage'] === stage && w.record['valve'] === here.valve).length;
  const start = (hot ? row?.hot_m ?? row?.wanted_hot_m : row?.cold_m ?? row?.wanted_hot_m) ?? (us ? 0.0004064 : 0.0004);
  const base = Math.round(start * (us ? 1 / 0.0254 : 1000) / step);
  const value = (steps ?? base) * step, read = steps !== null; /* a target, or what was read before, is no reading: nothing stands there until somebody says what the gauge says */
  const move = (by: number) => () => setSteps(Math.max((steps ?? base) + by, 0));
  const walk = (by: number) => { place({ at: (at + by + list.length) % list.length }); setSteps(null); };
  const keepIt = () => {
    if (!read) return;
    const text = `${value.toFixed(places)} ${unit}`;
    keep('lash', { valve: here.valve, stage, at: nowText(), ...(hot ? { hot: text, ...(minutes ? { since_stop: `${minutes} min` } : {}) } : { cold: text }) });
    walk(1);
  };
  return (
    <div class="lash">
      <div class="lash-head">
        <span class="switch" role="group" aria-label="Engine is"><button type="button" aria-pressed={hot} onClick={() => { place({ hot: true }); setSteps(null); }}>Hot</button><button type="button" aria-pressed={!hot} onClick={() => { place({ hot: false }); setSteps(null); }}>Cold</button></span>
        <label>Stage <input value={stage} onInput={(e) => { place({ stage: e.currentTarget.value }); }} /></label>
        {hot && <label>Min since stop <input inputMode="numeric" class="short" value={minutes} onInput={(e) => setMinutes(e.currentTarget.value.replace(/[^\d.]/g, ''))} /></label>}
      </div>
      <p class={'queue' + (waiting.value.length ? ' some' : '')} role="status">{waiting.value.length ? tn('{n} reading kept on this device, not in the book yet', '{n} readings kept on this device, not in the book yet', waiting.value.length) : t('everything is in the book')}</p>
      <Refused list={refused.value} />
      <p class="valve">{here.valve}</p>
      <p class="crank">{here.crank}</p>
      <p class={'lash-value' + (read ? '' : ' gone')} aria-live="polite">{read ? fixed(value, places) : '– –'} <small>{unit}</small></p>
      <div class="lash-pad">
        <button type="button" aria-label={t('less by {step}', { step: fixed(5 * step, places) })} onClick={move(-5)}>−{fixed(5 * step, places)}</button>
        <button type="button" aria-label={t('less by {step}', { step: fixed(step, places) })} onClick={move(-1)}>−{fixed(step, places)}</button>
        <button type="button" aria-label={t('more by {step}', { step: fixed(step, places) })} onClick={move(1)}>+{fixed(step, places)}</button>
        <button type="button" aria-label={t('more by {step}', { step: fixed(5 * step, places) })} onClick={move(5)}>+{fixed(5 * step, places)}</button>
      </div>
      <button type="button" class="lash-as" onClick={move(0)} disabled={read}>{t('It reads {lash}', { lash: `${fixed(base * step, places)}\u202f${unit}` })}</button>
      <button type="button" class="lash-keep" onClick={keepIt} disabled={!read}>Keep, next valve</button>
      <div class="lash-walk"><button type="button" onClick={() => walk(-1)}>Back</button><span class="quiet">{t('{n} of {all}', { n: Math.min(at, list.length - 1) + 1, all: list.length })}{pending ? ', ' + t('read') : row && (hot ? row.hot_m : row.cold_m) != null ? ', ' + t('in the book {lash}', { lash: mm(hot ? row.hot_m : row.cold_m) }) : ''}</span><button type="button" onClick={() => walk(1)}>Skip</button></div>
      {row?.stop && <p class="said grave">{t('{valve} changed by {change} since its first reading: stop and look.', { valve: here.valve, change: `${mm(row.change_m)}\u2009${unitOf('length')}` })}</p>}
      {!reloadsAlone && <p class="quiet">Reached without TLS: leave this page open while the server is out of reach, because it cannot be loaded again without it. Readings are kept either way.</p>}
      <p class="quiet">Turn the engine by hand with the spark off and out of gear; hot parts burn. The cam maker's card comes before any proposal.</p>
    </div>
  );
}
