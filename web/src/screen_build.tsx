/* Build: measurements against their targets, lash, checklists; and lash at the engine, for thumbs. */
import { useState } from 'preact/hooks';
import { api, Refusal, type Build, type BuildBegun, type BuildLine, type BuildReading } from './api';
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
import { t, tn, tx } from './words';

const nowText = stamp;

/* `engine`: "" for the one in the cell. */
function useBuild(engine: string): { answer: Build | null; why: string | null } {
  const system = units.value;
  return useQuestion(`build-${system}${engine ? '-' + engine : ''}`, () => api.build(system, engine), [changes.value]);
}

/* The figure on its target: the band in the middle, where the reading stands, its uncertainty. */
function Band({ line }: { line: BuildLine }) {
  if (line.mean == null || (line.low == null && line.high == null)) return null;
  const low = line.low ?? line.high! - 2 * Math.abs(line.high! - line.mean || 1e-6), high = line.high ?? line.low! + 2 * Math.abs(line.mean - line.low! || 1e-6);
  const span = high - low || 1e-9, at = (v: number) => Math.min(Math.max(25 + 50 * (v - low) / span, 1), 99);
  const u = line.expanded ?? 0;
  return (
    <svg class={'band ' + line.verdict} viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
      <rect class="track" y="4" width="100" height="2" /><rect class="allowed" x="25" y="1.5" width="50" height="7" />
      {u > 0 && <rect class="doubt" x={at(line.mean - u)} y="3.5" width={Math.max(at(line.mean + u) - at(line.mean - u), .5)} height="3" />}
      <rect class="needle" x={at(line.mean) - .6} width="1.2" height="10" />
    </svg>
  );
}

function Measurements({ build, away }: { build: BuildBegun; away: boolean }) {
  const items = [...new Set(build.measurements.map((m) => m.item + (m.stage ? ', ' + m.stage : '')))];
  const [open, setOpen] = useState('');
  return (
    <section class="card">
      <h2>Measurements</h2>
      {items.map((item) => {
        const lines = build.measurements.filter((m) => m.item + (m.stage ? ', ' + m.stage : '') === item);
        const out = lines.filter((l) => l.verdict === 'out').length, missing = lines.filter((l) => l.mean == null).length;
        return (
          <details key={item} class="item" open={open === item || out > 0} onToggle={(e) => { if (e.currentTarget.open) setOpen(item); }}>
            <summary><b>{item}</b> <span class={out ? 'grave-word' : 'quiet'}>{out ? t('{n} out of target', { n: out }) : missing === lines.length ? t('not measured') : missing ? t('{n} missing', { n: missing }) : t('all in or near')}</span></summary>
            <table class="list"><tbody>{lines.map((l) => (
              <tr key={l.position}><th scope="row">{l.position}</th><td class="num">{l.shown ?? '–'}</td><td class="num quiet">{l.low_shown || l.high_shown ? t('{low} to {high}', { low: l.low_shown ?? '', high: l.high_shown ?? '' }) : ''}</td><td class="bar-cell"><Band line={l} /></td><td class={l.verdict === 'out' ? 'grave-word' : ''}>{l.verdict}</td></tr>))}</tbody></table>
            {lines[0]?.from && <p class="quiet">{t('Target: {from}', { from: lines[0].from })}</p>}
            {out > 0 && lines[0]?.caution && <ul class="mind"><li>{lines[0].caution}</li></ul>}
          </details>
        );
      })}
      {!away && <AddMeasure items={[...new Set(build.measurements.map((m) => m.item))]} />}
    </section>
  );
}

/* A figure out of all reach is asked about (422), and kept when somebody says that it is so. */
function AddMeasure({ items }: { items: string[] }) {
  const [item, setItem] = useDraft('measure-item', '');
  const [position, setPosition] = useDraft('measure-position', '');
  const [readings, setReadings] = useDraft('measure-readings', '');
  const [asked, setAsked] = useState<string | null>(null);
  const keepIt = (sure: boolean) => {
    api.buildRecord('measured', { item, position, readings: readings.split(',').map((r) => r.trim()).filter(Boolean), at: nowText(), ...(sure ? { sure: 'yes' } : {}) })
      .then(() => { say(t('{what}: kept.', { what: `${item}, ${position}` })); changes.value++; setReadings(''); setAsked(null); },
        (problem: unknown) => { if (problem instanceof Refusal && problem.status === 422) setAsked(problem.message); else complain(problem); });
  };
  const typed = (set: (v: string) => void) => (e: { currentTarget: HTMLInputElement }) => { set(e.currentTarget.value); setAsked(null); };
  return (
    <form class="line-form" onSubmit={(e) => { e.preventDefault(); keepIt(false); }}>
      <label>Add <input required list="items" value={item} placeholder="item" onInput={typed(setItem)} /></label>
      <datalist id="items">{items.map((i) => <option key={i} value={i} />)}</datalist>
      <label>At <input required value={position} placeholder="main 3, 4 exhaust" onInput={typed(setPosition)} /></label>
      <label>Reads <input required value={readings} placeholder="0.058 mm, 0.059 mm" onInput={typed(setReadings)} /></label>
      <button type="submit">Keep</button>
      {asked && <p class="problem" role="alert">{words(asked)} <button type="button" onClick={() => { keepIt(true); }}>That is right: keep it</button></p>}
    </form>
  );
}

/* Every reading as it was kept, the newest first; each can be taken out of account, with the reason. */
function Readings({ build }: { build: BuildBegun }) {
  const [which, setWhich] = useState(0);
  const [reason, setReason] = useState('');
  const all = [...build.readings ?? []].sort((a, b) => b.id - a.id);
  const name = (r: BuildReading) => `${r.what}${r.position ? ' ' + r.position : ''}${r.stage ? ', ' + r.stage : ''}`;
  if (all.length === 0) return null;
  const withdraw = (r: BuildReading) => (e: Event) => {
    e.preventDefault();
    api.buildWithdraw(r.id, reason.trim()).then(() => { say(t('{reading}: withdrawn; the book keeps it with the reason.', { reading: `${name(r)}, ${r.shown}` })); changes.value++; setWhich(0); setReason(''); }, complain);
  };
  return (
    <section class="card"><h2>Readings as kept</h2>
      <details class="item"><summary><b>{tn('{n} reading', '{n} readings', all.length)}</b> <span class="quiet">newest first; a wrong one is withdrawn with its reason</span></summary>
        <table class="list"><tbody>{all.map((r) => (
          <tr key={r.id}><th scope="row" translate={false}>{name(r)}</th><td class="num">{r.shown}</td><td class="quiet">{r.at?.slice(0, 16).replace('T', ' ') ?? ''}{r.who ? ', ' + r.who : ''}</td>
            <td class="row-buttons">{which === r.id
              ? <form class="line-form" onSubmit={withdraw(r)}><label>Reason <input required maxLength={300} value={reason} onInput={(e) => { setReason(e.currentTarget.value); }} /></label><button type="submit">Withdraw</button><button type="button" class="plain" onClick={() => { setWhich(0); }}>Leave it</button></form>
              : <button type="button" class="plain" aria-label={t('Withdraw: {reading}', { reading: `${name(r)}, ${r.shown}` })} onClick={() => { setWhich(r.id); setReason(''); }}>Withdraw</button>}</td></tr>))}</tbody></table>
      </details>
    </section>
  );
}

function Steps({ build, away }: { build: BuildBegun; away: boolean }) {
  const lists = [...new Set(build.steps.map((s) => s.list))];
  const tick = (list: string, step: string, state: string) => () => { keep('done', { list, step, state, at: nowText() }); };
  return (
    <section class="card"><h2>Checklists</h2>
      {lists.map((list) => {
        const steps = build.steps.filter((s) => s.list === list), open = steps.filter((s) => s.state === 'open' || s.state === 'failed').length;
        return (
          <details key={list} class="item"><summary><b>{list}</b> <span class="quiet">{open ? t('{n} of {all} open', { n: open, all: steps.length }) : t('all done')}</span></summary>
            <ul class="ticks">{steps.map((s) => (
              <li key={s.step} class={s.state.replaceAll(' ', '-')}>
                <span>{s.step}{s.before && s.before !== 'none' ? <span class="quiet"> {t('before {stage}', { stage: s.before.replaceAll('_', ' ') })}</span> : null}{s.caution && <span class="caution">{s.caution}</span>}</span>
                {away ? <span class="quiet">{s.state}</span> : <span class="tick-buttons">
                  <button type="button" aria-pressed={s.state === 'done'} onClick={tick(list, s.step, 'done')}>Done</button>
                  <button type="button" aria-pressed={s.state === 'failed'} onClick={tick(list, s.step, 'failed')}>Failed</button>
                  <button type="button" aria-pressed={s.state === 'does not apply'} onClick={tick(list, s.step, 'does not apply')}>Not here</button>
                </span>}
              </li>))}</ul>
          </details>
        );
      })}
    </section>
  );
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

function Begin({ engine }: { engine: string | undefined }) {
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
        {(Object.keys(facts) as (keyof typeof facts)[]).map((key) => <label key={key}>{({ build: t('Name of the build'), family: t('Family'), block: t('Block'), head: t('Heads'), rocker: t('Rockers') })[key]} <input value={facts[key]} placeholder={({ build: '', family: t('tag that like engines share'), block: t('iron'), head: t('aluminium'), rocker: t('steel shaft') })[key]} onInput={(e) => { const v = e.currentTarget.value; setFacts((f) => ({ ...f, [key]: v })); }} /></label>)}
        <button type="submit">Begin the record</button>
      </form>
    </section>
  );
}

export function BuildScreen() {
  const engine = route.value.query.get('engine') ?? '', { answer: build, why } = useBuild(engine), away = engine !== '' && engine !== book.value?.engine;
  if (!build) return <Waiting says="Reading the build…" why={why} />;
  if (!build.begun && away) return <section class="first"><h1 translate={false}>{engine}</h1><p class="lead">{tx('No build record of this engine yet. One begins when it is {put}.', { put: <a href="#/shop">put in the cell</a> })}</p></section>;
  if (!build.begun) return <Begin engine={build.engine} />;
  return (
    <div class="build">
      <header class="headline"><h1 translate={false}>{t('Build of {engine}', { engine: build.engine ?? '' })}</h1>{!away && <a class="button" href="#/lash">Read lash at the engine</a>}</header>
      {away && <p class="quiet">{tx('This engine is not in the cell: its record can be read here. {put} to go on with it.', { put: <a href="#/shop">Put it in the cell</a> })}</p>}
      <Refused list={refused.value.filter((r) => r.kind === 'done')} />
      <div class="columns two">
        <Measurements build={build} away={away} /><LashTable build={build} away={away} />
        {build.findings.length > 0 && <section class="card"><h2>What to look at</h2><ul class="mind">{build.findings.map((f) => <li key={f.text} class={f.severity}><b>{t(f.severity)}</b> {words(f.text)}</li>)}</ul></section>}
        <Steps build={build} away={away} />{!away && <Readings build={build} />}
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
  const [at, setAt] = useState(0);
  const [hot, setHot] = useState(true);
  const [stage, setStage] = useState('run-in');
  const [minutes, setMinutes] = useState('5');
  const [steps, setSteps] = useState<number | null>(null);
  if (!build) return <Waiting says="Reading the build…" why={why} />;
  if (!build.begun) return <Begin engine={build.engine} />;
  const us = units.value === 'us', step = us ? 0.001 : 0.01, unit = us ? 'in' : 'mm', places = us ? 3 : 2;
  const list = order(build), here = list[Math.min(at, list.length - 1)]!;
  const row = build.lash.find((r) => r.valve === here.valve);
  const pending = waiting.value.filter((w) => w.kind === 'lash' && w.record['stage'] === stage && w.record['valve'] === here.valve).length;
  const start = (hot ? row?.hot_m ?? row?.wanted_hot_m : row?.cold_m ?? row?.wanted_hot_m) ?? (us ? 0.0004064 : 0.0004);
  const base = Math.round(start * (us ? 1 / 0.0254 : 1000) / step);
  const value = (steps ?? base) * step, read = steps !== null; /* a target, or what was read before, is no reading: nothing stands there until somebody says what the gauge says */
  const move = (by: number) => () => setSteps(Math.max((steps ?? base) + by, 0));
  const walk = (by: number) => { setAt((at + by + list.length) % list.length); setSteps(null); };
  const keepIt = () => {
    if (!read) return;
    const text = `${value.toFixed(places)} ${unit}`;
    keep('lash', { valve: here.valve, stage, at: nowText(), ...(hot ? { hot: text, ...(minutes ? { since_stop: `${minutes} min` } : {}) } : { cold: text }) });
    walk(1);
  };
  return (
    <div class="lash">
      <div class="lash-head">
        <span class="switch" role="group" aria-label="Engine is"><button type="button" aria-pressed={hot} onClick={() => { setHot(true); setSteps(null); }}>Hot</button><button type="button" aria-pressed={!hot} onClick={() => { setHot(false); setSteps(null); }}>Cold</button></span>
        <label>Stage <input value={stage} onInput={(e) => setStage(e.currentTarget.value)} /></label>
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
      <div class="lash-walk"><button type="button" onClick={() => walk(-1)}>Back</button><span class="quiet">{t('{n} of {all}', { n: at + 1, all: list.length })}{pending ? ', ' + t('read') : row && (hot ? row.hot_m : row.cold_m) != null ? ', ' + t('in the book {lash}', { lash: mm(hot ? row.hot_m : row.cold_m) }) : ''}</span><button type="button" onClick={() => walk(1)}>Skip</button></div>
      {row?.stop && <p class="said grave">{t('{valve} changed by {change} since its first reading: stop and look.', { valve: here.valve, change: `${mm(row.change_m)}\u2009${unitOf('length')}` })}</p>}
      {!reloadsAlone && <p class="quiet">Reached without TLS: leave this page open while the server is out of reach, because it cannot be loaded again without it. Readings are kept either way.</p>}
      <p class="quiet">Turn the engine by hand with the spark off and out of gear; hot parts burn. The cam maker's card comes before any proposal.</p>
    </div>
  );
}
