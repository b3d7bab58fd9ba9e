/* Live: readable from three metres. When data stops, the numbers stop being numbers. */
import { useEffect, useRef, useState } from 'preact/hooks';
import { api, type AlarmTable, type LiveGauge, type LiveNews } from './api';
import { book, complain, connected, lostFor, say, units } from './state';
import { fixed, shown, unitOf, words } from './format';
import { decimalsOf, Gauge, HeroLimit } from './live_gauges';
import { windowKeys } from './window_keys';
import { clockAndAgo, lasting } from './clock';
import { useDraft } from './draft';
import { keepAwake } from './awake';
import { arrived, drawers, failedWhy, frame, inPull, lostWhy, MINUTE_MS, news, now, old, refresh, RING, ring, session, state, value } from './live_state';
import { theme } from './plot_line';
import { Later, Soon } from './later';
import { Actions } from './live_actions';
import { After } from './live_after';
import { LiveCurve } from './live_curve';
import { t, tx, inWords } from './words';

function Big({ label, kind, inside, decimals, unit, channel }: { label: string; kind?: string; inside: number | null; decimals: number; unit?: string; channel?: string }) {
  return (
    <div class={'hero' + (inside == null ? ' gone' : '')}>
      <span class="hero-label">{label} <b>{unit ?? (kind ? unitOf(kind) : '')}</b></span>
      <span class="hero-value">{inside == null ? '– –' : fixed(kind ? shown(kind, inside) : inside, decimals)}</span>
      {channel && <HeroLimit channel={channel} kind={kind ?? 'speed'} />}
    </div>
  );
}

/* The least round figure that holds `most`, so that no line is cut at the top. */
function roundAbove(most: number): number {
  const power = 10 ** Math.floor(Math.log10(Math.max(most, 1)));
  return [1, 2, 4, 5, 6, 8, 10].map((step) => step * power).find((top) => top >= most) ?? most;
}
/* Of what is younger than a minute. */
const most = (values: Float32Array) => { const from = performance.now() - MINUTE_MS; return values.reduce((top, v, i) => v > top && ring.time[i]! >= from ? v : top, 0); };
const BREAK_MS = 1500; /* a line is not drawn over a longer wait than that, or three usual ones */

function Trend() {
  const canvas = useRef<HTMLCanvasElement>(null);
  const [tops, setTops] = useState({ torque: 0, speed: 0 });
  useEffect(() => {
    const element = canvas.current!;
    let due = false;
    const draw = () => {
      due = false;
      const ratio = devicePixelRatio, w = element.clientWidth * ratio, h = element.clientHeight * ratio;
      if (element.width !== w || element.height !== h) { element.width = w; element.height = h; }
      const c = element.getContext('2d')!, style = getComputedStyle(document.documentElement);
      c.clearRect(0, 0, w, h);
      const torqueMost = most(ring.torque), speed = roundAbove(Math.max(most(ring.speed), 4000)), torque = roundAbove(shown('torque', Math.max(torqueMost, 100)));
      const none = torqueMost === 0 && most(ring.speed) === 0;
      setTops((old) => none ? (old.speed === 0 ? old : { torque: 0, speed: 0 }) : old.torque === torque && old.speed === speed ? old : { torque, speed });
      const end = performance.now(), gap = Math.max(BREAK_MS, 3000 * (frame.value?.every_s ?? 0));
      const line = (values: Float32Array, top: number, ink: string, dash: number[]) => {
        c.strokeStyle = style.getPropertyValue(ink); c.lineWidth = 2 * ratio; c.setLineDash(dash.map((d) => d * ratio)); c.beginPath();
        let pen = -Infinity;
        for (let i = 0; i < RING; i++) {
          const k = (ring.at + 1 + i) % RING, v = values[k]!, at = ring.time[k]!;
          if (Number.isNaN(v) || at < end - MINUTE_MS) { pen = -Infinity; continue; }
          const x = w * (1 - (end - at) / MINUTE_MS), y = h - 4 * ratio - (h - 8 * ratio) * Math.min(Math.max(v / top, 0), 1);
          if (at - pen <= gap) c.lineTo(x, y); else c.moveTo(x, y);
          pen = at;
        }
        c.stroke();
      };
      line(ring.speed, speed, '--ochre', [7, 4]);
      line(ring.torque, torque / shown('torque', 1), '--blue', []);
    };
    const ask = () => { if (!due) { due = true; requestAnimationFrame(draw); } };
    drawers.add(ask);
    ask();
    const resized = new ResizeObserver(ask); /* a canvas that changes its size is empty */
    resized.observe(element);
    return () => { drawers.delete(ask); resized.disconnect(); };
  }, [units.value, theme.value]);
  return (
    <figure class="trend"><canvas ref={canvas} aria-hidden="true" />
      <figcaption class="quiet">{tops.speed === 0 ? t('Torque and speed of the last minute: no data yet.') : tx('The last minute: {torque} up to {most}, solid; {speed} up to {fastest} rpm, dashed',
        { torque: <b class="blue">torque</b>, most: `${fixed(tops.torque, 0)}\u2009${unitOf('torque')}`, speed: <b class="ochre">speed</b>, fastest: fixed(tops.speed, 0) })}</figcaption></figure>
  );
}

/* Whether pulls are armed as the load comes on, and if not, why: as the recorder said it last. */
function Arming({ control }: { control: (line: string) => () => void }) {
  const disarmed = frame.value?.disarmed ?? false;
  const last = news.value.filter((n) => n.news.event === 'arming').slice(-1)[0];
  const why = last?.news['armed'] === false ? last.why : null;
  const says = disarmed ? t('Disarmed by hand: pulls are kept and not judged.') : why ? t('Pulls are armed as the load comes on; the last time this was refused: {why}', { why }) : t('Pulls are armed as the load comes on.');
  return (
    <p class="arming-line"><button type="button" aria-pressed={!disarmed} disabled={inPull.value} onClick={control(disarmed ? 'arm' : 'disarm')}>{disarmed ? 'Arm' : 'Disarm'}</button> <span role="status">{words(says)}</span></p>
  );
}

/* What a recorder that died left behind: its rows are there, and the next recording closes it. */
function CutShort() {
  const cut = state.value?.cut_short ?? [];
  return <>{cut.map((c) => <p key={c.recording} class="said grave cut-short">{t('Recording {recording} was cut short: {rows} rows are kept, the last at {time}. Nothing has been recorded since. Look at the cell, then begin again.',
    { recording: c.recording, rows: fixed(c.stored_rows, 0), time: clockAndAgo(c.last_stored_at ?? c.began_at) })}</p>)}</>;
}

function Control() {
  const [source, setSource] = useDraft('live-source', 'practice:?rate=100');
  const [second, setSecond] = useDraft('live-second', '');
  const [changed, setChanged] = useDraft('live-changed', '');
  const [limit, setLimit] = useDraft('live-limit', '');
  const [building, setBuilding] = useState(false), [rate, setRate] = useDraft('live-rate', ''), [table, setTable] = useState<AlarmTable>({}), [begins, setBegins] = useState(false);
  /* Why the last recording did not begin, or broke off: beside the source that it names. Typing there takes it away. */
  const [read, setRead] = useState<string | null>(null), failed = failedWhy.value === read ? null : failedWhy.value;
  const names = (url: string) => url.trim() !== '' && failed?.includes(url.trim() + ':') === true, ofSource = names(source), ofSecond = !ofSource && names(second);
  const control = (line: string) => () => { api.liveControl(line).catch(complain); };
  const start = (e: Event) => {
    e.preventDefault();
    if (begins) return; /* a double tap */
    setBegins(true);
    setRead(failedWhy.value); /* of the time before */
    api.liveStart([source, second].filter((one) => one.trim() !== ''), changed, limit, rate, table).then((r) => { setChanged(''); if (r.own_book) say(t('Practice goes into a book of its own: {book}', { book: r.own_book })); void refresh(); }, complain).finally(() => { setBegins(false); });
  };
  if (session.value === 'unknown') return <section class="card"><h2>Recording</h2><p>This page does not know whether a recording is under way: only the server can say so, and it is asked again every few seconds.</p></section>;
  if (session.value === 'elsewhere') return <section class="card"><h2>Recording</h2><p>Another program is recording into this book. Its figures and its alarms are not shown here; stop it where it was started.</p></section>;
  if (session.value === 'idle') return (
    <form class="card stack" onSubmit={start}>
      <h2>Begin</h2>
      <CutShort />
      <p class={state.value?.engine ? '' : 'mind'}>{state.value?.engine ? tx('Engine in the cell: {engine}. {change}', { engine: <b translate={false}>{state.value.engine}</b>, change: <a href="#/shop">Put another one in</a> })
        : tx('No engine is in the cell: pulls have no limit and no history. {begin}', { begin: <a href="#/engine">Begin one</a> })}</p>
      {failed && !ofSource && !ofSecond && <p class="said grave" role="alert">{failed}</p>}
      <label>Source <input required value={source} aria-invalid={ofSource ? 'true' : undefined} aria-describedby={ofSource ? 'begin-source-problem' : undefined} onInput={(e) => { setRead(failed); setSource(e.currentTarget.value); }} list="sources" /></label>
      {ofSource && <p id="begin-source-problem" class="problem" role="alert">{failed}</p>}
      <label>And from <input value={second} placeholder="a second, if any" aria-invalid={ofSecond ? 'true' : undefined} aria-describedby={ofSecond ? 'begin-second-problem' : undefined} onInput={(e) => { setRead(failed); setSecond(e.currentTarget.value); }} list="sources" /></label>
      {ofSecond && <p id="begin-second-problem" class="problem" role="alert">{failed}</p>}
      {state.value?.may_name && (building ? <Later part={(m) => m.SourceForm} given={{ onTake: (url: string) => { setSource(url); setBuilding(false); }, onClose: () => setBuilding(false) }} />
        : <p class="tools"><button type="button" onClick={() => setBuilding(true)}>Another source, field by field…</button></p>)}
      <datalist id="sources">{(state.value?.named ?? []).map((one) => <option key={one} value={one} />)}{state.value?.may_name && <><option value="tcp://192.0.2.7:5000" /><option value="serial:/dev/ttyUSB0" /></>}</datalist>
      {state.value?.may_name === false && <p class="quiet">{tx('This device can start the sources named on the machine that serves the page: {sources}.', { sources: <span translate={false}>{state.value.named.join(', ')}</span> })}</p>}
      <label>Changed <input value={changed} placeholder="since the last pull" onInput={(e) => setChanged(e.currentTarget.value)} /></label>
      <label>Limit today <input value={limit} placeholder="the engine's or the cell's own, such as 7000 rpm" onInput={(e) => setLimit(e.currentTarget.value)} /></label>
      <label>Rate of sweeps <input value={rate} placeholder="the cell's own, such as 300 rpm/s" onInput={(e) => setRate(e.currentTarget.value)} /></label>
      <Later part={(m) => m.AlarmTableChoice} given={{ chosen: table, onChoose: setTable }} />
      <button type="submit">Begin recording</button>
      <p class="quiet">practice: is an invented engine in a simulated cell. What this page asks of a dyno is a request, not a safety device: a hard-wired stop, an overspeed trip, and gas and fire systems of their own remain necessary.</p>
    </form>
  );
  const practice = state.value?.source?.startsWith('practice:');
  return (
    <section class="card">
      <h2>Recording <span class="quiet" translate={false}>{state.value?.source}</span></h2>
      {inPull.value && <p class="locked">A pull is under way: limits and the source's controls are locked until it is over.</p>}
      {state.value?.alarms_name && <p class="quiet">{t('Alarms: {table}', { table: state.value.alarms_name })}</p>}
      <Arming control={control} />
      <p class="tools">
        <button type="button" disabled={inPull.value} onClick={control('begin')}>Begin a pull by hand <kbd>b</kbd></button>
        <button type="button" onClick={control('end')}>End it <kbd>e</kbd></button>
      </p>
      {practice && state.value?.may_send && <fieldset class="tools"><legend class="quiet">The invented engine</legend>
        <button type="button" disabled={inPull.value} onClick={control('send start')}>Start the engine</button>
        <button type="button" disabled={inPull.value} onClick={control('send oil 90')}>Oil warm</button>
        <button type="button" disabled={inPull.value} onClick={control('send coolant 80')}>Coolant warm</button>
        <button type="button" disabled={inPull.value} onClick={control('send speed 3000')}>Hold 3,000</button>
        <button type="button" disabled={inPull.value} onClick={control('send sweep 2500 6500 300')}>Pull to 6,500</button>
      </fieldset>}
    </section>
  );
}

/* What the practice cell answers is shown as it is: who answered says nothing to a person at the window. */
function plain(n: LiveNews): string {
  return words((n.news['what'] === 'reply' && n.why ? n.why : n.text) ?? '');
}

/* What came near its limit in the last pull: told afterwards, since nothing may draw the eye during one. */
function Near() {
  const last = news.value.filter((n) => n.news.event === 'pull' && typeof n.news['near'] === 'string').slice(-1)[0];
  if (!last || inPull.value) return null;
  const near = JSON.parse(last.news['near'] as string) as { name: string; share: number }[];
  return (
    <section class="card" aria-label="Nearly tripped"><h2>Nearly tripped in the last pull</h2>
      {near.length === 0 ? <p class="quiet">Nothing came near its limit.</p> :
        <ul class="near">{[...near].sort((a, b) => b.share - a.share).map((n) => <li key={n.name}><b>{inWords(n.name)}</b>: {t('{share} % of the way to a trip', { share: fixed(100 * n.share, 0) })}</li>)}</ul>}
    </section>
  );
}

const graveEvents = new Set(['alarm', 'gap', 'storage', 'failed', 'recovered', 'refused']);

function News() {
  const told = new Map<string, { n: LiveNews; times: number }>(); /* what is said again and again stands once, with its last time */
  for (const n of [...news.value].filter((one) => one.text).reverse()) {
    const says = plain(n), known = told.get(says);
    if (known) known.times++; else told.set(says, { n, times: 1 });
  }
  const lines = [...told].slice(0, 10);
  return (
    <section class="card" aria-label="What happened"><h2>What happened</h2>
      {lines.length === 0 ? <p class="quiet">Nothing yet.</p> :
        <ul class="news">{lines.map(([says, { n, times }]) => <li key={says} class={graveEvents.has(n.news.event) ? 'grave' : n.news.event}><span class="quiet">{n.news.at && clockAndAgo(n.news.at)}</span> {says}{times > 1 && <span class="quiet"> ×{times}</span>}</li>)}</ul>}
    </section>
  );
}

/* A figure of the window: no band and no limit; of several readings the highest. */
function Agreed({ gauge }: { gauge: LiveGauge }) {
  const own = Object.keys(frame.value?.values ?? {}).filter((k) => k === gauge.key || new RegExp(`^${gauge.key}_\\d+$`).test(k));
  const known = own.map(value).filter((v): v is number => v != null);
  return <Big label={own.length > 1 ? t('{channel}, highest of {n}', { channel: inWords(gauge.label), n: own.length }) : gauge.label} kind={gauge.kind} inside={known.length ? Math.max(...known) : null} decimals={decimalsOf[gauge.kind] ?? 1} />;
}

function Heroes({ limits, only }: { limits: boolean; only?: string[] }) {
  const speed = value('speed'), torque = value('torque');
  const power = speed == null || torque == null ? null : torque * speed * Math.PI / 30;
  const has = (key: string) => !only || only.includes(key);
  return (
    <div class="heroes" role="group" aria-label="Live figures">
      {has('speed') && <Big label="Speed" inside={speed == null ? null : Math.round(speed / 10) * 10} decimals={0} unit="rpm" {...(limits ? { channel: 'speed' } : {})} />}
      {has('torque') && <Big label="Torque, observed" kind="torque" inside={torque} decimals={0} {...(limits ? { channel: 'torque' } : {})} />}
      {has('power') && <Big label="Power, observed" kind="power" inside={power} decimals={0} />}
      {only && state.value?.gauges.filter((g) => has(g.key) && g.key !== 'speed' && g.key !== 'torque').map((g) => <Agreed key={g.key} gauge={g} />)}
    </div>
  );
}

const UNSTORED_S = 2;

/* Slower than this, the wait between samples is said: a figure may be as old as that. */
const SLOW_S = 0.4;

function whyNotLive(): string {
  const f = frame.value, since = f?.age_s == null ? null : f.age_s + (now.value - arrived.value) / 1000;
  if (!connected.value) return lostFor.value ? t('NO CONNECTION since {time}: what the cell does is not known here', { time: clockAndAgo(lostFor.value) }) : t('NO CONNECTION: what the cell does is not known here');
  switch (session.value) {
    case 'unknown': return t('asking the server…');
    case 'elsewhere': return t('another program is recording: its figures are not shown here');
    case 'idle': return t('not recording');
    case 'recording': return since == null ? (lostWhy.value ? t('waiting for data: {why}', { why: lostWhy.value }) : t('waiting for data')) : t('NO DATA for {time}: what was shown is old', { time: lasting(since) });
  }
}

function Freshness() {
  const stored = frame.value?.since_stored_s ?? null, every = frame.value?.every_s ?? 0;
  if (old.value) return <p class="fresh gone">{whyNotLive()}</p>;
  return <p class="fresh-line"><span class="fresh">live</span>{every > SLOW_S && <span class="fresh waiting">{t('a sample every {time} s', { time: fixed(every, 1) })}</span>}{inPull.value && <span class="fresh pull">pull under way</span>}
    {stored == null ? <span class="fresh waiting">nothing stored yet</span> : stored > UNSTORED_S && <span class="fresh gone">{t('NOT STORED for {time} s: the disk is behind', { time: fixed(stored, 0) })}</span>}</p>;
}

export function LiveScreen() {
  useEffect(() => { void refresh(); return keepAwake(); }, []);
  void units.value;
  if (!state.value) return <p class="quiet lone">{connected.value ? 'Looking into the cell…' : whyNotLive()}</p>;
  const records = session.value === 'recording';
  return (
    <div class="live">
      <h1 class="unseen">Live</h1>
      <div class="live-first">
        <Freshness />
        <Heroes limits />
        <div class={'live-main' + (records ? '' : ' idle')}>
          {records ? <LiveCurve /> : <Control />}
          <div class="live-side" tabIndex={0} role="group" aria-label="Watched channels"><After /><div class="gauges">{state.value.gauges.map((g) => <Gauge key={g.key} gauge={g} />)}</div></div>
        </div>
      </div>
      <div class="columns">{records && <><Later part={(m) => m.LiveSetup} given={{}} /><Control /></>}<Near /><News /></div>
      <Trend />
      <p class="tools"><a href="#/window">The window: for the customer</a><Soon part={(m) => m.FullScreen} /></p>
      <p class="quiet">{state.value.running && !state.value.watched ? t('No alarms are watched in this session: no bands are drawn.') + ' ' : ''}{t("Bands show what the alarms in force allow at this moment. Limits in the template are starting points (common practice, no source) and give way to the makers' figures.")}</p>
      <Actions />
    </div>
  );
}

/* The window: what a customer may see, without names, bands or controls. */
export function WindowScreen() {
  useEffect(() => { void refresh(); return keepAwake(); }, []);
  const seen = windowKeys(), drawn = seen.includes('speed') && seen.includes('torque'); /* the drawing and a pull's line tell torque, too */
  return (
    <div class="window">
      <h1 translate={false}>{book.value?.settings['shop'] || t('In the cell')}</h1>
      <Freshness />
      <Heroes limits={false} only={seen} />
      {drawn && <LiveCurve plain power={seen.includes('power')} />}
      {drawn && <Trend />}
      <Soon part={(m) => m.FullScreen} />
    </div>
  );
}
