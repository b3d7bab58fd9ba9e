/* Live: readable from three metres. When data stops, the numbers stop being numbers. */
import { useEffect, useRef, useState } from 'preact/hooks';
import { computed, signal } from '@preact/signals';
import { api, type LiveState, type LiveGauge, type LiveNews } from './api';
import { book, complain, connected, listen, say, units } from './state';
import { fixed, shown, unitOf, words } from './format';

interface Frame { running: boolean; time_s: number; values: Record<string, number | null> }
const frame = signal<Frame | null>(null);
const arrived = signal(0);
const now = signal(performance.now());
const OLD_MS = 500;
export const old = computed(() => !frame.value?.running || now.value - arrived.value > OLD_MS || !connected.value);
const state = signal<LiveState | null>(null);
const news = signal<LiveNews[]>([]);

/* Alarms latch until a person clears them; the last of each name stands here. */
const standing = signal<Map<string, LiveNews>>(new Map());
function noteAlarm(one: LiveNews) {
  if (one.news.event === 'started') { standing.value = new Map(); return; }
  if (one.news.event !== 'alarm') return;
  const name = one.news['name'];
  if (one.news['action'] === 'clear' && one.news['standing'] === 0) standing.value = new Map();
  else if (typeof name === 'string') standing.value = new Map(standing.value).set(name, one);
}

/* The last minute of speed and torque: a ring that does not grow. */
const RING = 1200;
const ring = { speed: new Float32Array(RING).fill(NaN), torque: new Float32Array(RING).fill(NaN), at: 0 };
const drawers = new Set<() => void>();

listen('live', (data) => {
  const next = JSON.parse(data) as Frame;
  frame.value = next;
  arrived.value = now.value = performance.now();
  ring.at = (ring.at + 1) % RING;
  ring.speed[ring.at] = next.values['speed'] ?? NaN;
  ring.torque[ring.at] = next.values['torque'] ?? NaN;
  drawers.forEach((draw) => draw());
  if (state.value && state.value.running !== next.running) void refresh();
});
listen('news', (data) => {
  const one = JSON.parse(data) as LiveNews;
  news.value = [...news.value.slice(-39), one];
  noteAlarm(one);
  if (one.news.event === 'end' || one.news.event === 'failed' || one.news.event === 'started') void refresh();
});
setInterval(() => { now.value = performance.now(); }, 250);

async function refresh() {
  try { state.value = await api.live(); news.value = state.value.news; standing.value = new Map(); news.value.forEach(noteAlarm); } catch (problem) { complain(problem); }
}

function value(key: string): number | null { return old.value ? null : frame.value?.values[key] ?? null; }

function Big({ label, kind, inside, decimals, unit }: { label: string; kind?: string; inside: number | null; decimals: number; unit?: string }) {
  return (
    <div class={'hero' + (inside == null ? ' gone' : '')}>
      <span class="hero-label">{label} <b>{unit ?? (kind ? unitOf(kind) : '')}</b></span>
      <span class="hero-value">{inside == null ? '– –' : fixed(kind ? shown(kind, inside) : inside, decimals)}</span>
    </div>
  );
}

const gaugeDecimals: Record<string, number> = { lambda: 3, 'pressure gauge': 2, temperature: 0, count: 0 };

function Gauge({ gauge }: { gauge: LiveGauge }) {
  const values = frame.value?.values ?? {};
  const own = Object.keys(values).filter((k) => k === gauge.key || (k.startsWith(gauge.key + '_') && /^\d+$/.test(k.slice(gauge.key.length + 1))));
  if (own.length === 0) return null;
  const all = own.map((k) => values[k]).filter((v): v is number => v != null);
  const worst = gauge.high != null ? Math.max(...all) : Math.min(...all);
  const inside = old.value || all.length === 0 ? null : worst;
  const at = (v: number) => 100 * Math.min(Math.max((v - gauge.scale_low) / (gauge.scale_high - gauge.scale_low), 0), 1);
  const low = gauge.low == null ? 0 : at(gauge.low), high = gauge.high == null ? 100 : at(gauge.high);
  const out = inside != null && ((gauge.low != null && inside < gauge.low) || (gauge.high != null && inside > gauge.high));
  const decimals = gaugeDecimals[gauge.kind] ?? 1;
  return (
    <div class={'gauge' + (out ? ' out' : '') + (inside == null ? ' gone' : '')}>
      <span class="gauge-label">{gauge.label}{own.length > 1 ? `, highest of ${own.length}` : ''}</span>
      <span class="gauge-value">{inside == null ? '– –' : fixed(shown(gauge.kind, inside), decimals)} <small>{unitOf(gauge.kind)}</small></span>
      <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect class="track" width="100" height="10" /><rect class="allowed" x={low} width={Math.max(high - low, 0)} height="10" />
        {inside != null && <rect class="needle" x={Math.min(at(inside), 98.8)} width="1.2" height="10" />}
      </svg>
      <span class="gauge-word">{inside == null ? 'no data' : out ? (gauge.high != null && inside > gauge.high ? 'above its band' : 'below its band') : 'in its band'}</span>
    </div>
  );
}

function Trend() {
  const canvas = useRef<HTMLCanvasElement>(null);
  useEffect(() => {
    const element = canvas.current!;
    let due = false;
    const draw = () => {
      due = false;
      const ratio = devicePixelRatio, w = element.clientWidth * ratio, h = element.clientHeight * ratio;
      if (element.width !== w || element.height !== h) { element.width = w; element.height = h; }
      const c = element.getContext('2d')!, style = getComputedStyle(document.documentElement);
      c.clearRect(0, 0, w, h);
      const line = (values: Float32Array, top: number, ink: string, dash: number[]) => {
        c.strokeStyle = style.getPropertyValue(ink); c.lineWidth = 2 * ratio; c.setLineDash(dash.map((d) => d * ratio)); c.beginPath();
        let pen = false;
        for (let i = 0; i < RING; i++) {
          const v = values[(ring.at + 1 + i) % RING]!;
          if (Number.isNaN(v)) { pen = false; continue; }
          const x = w * i / (RING - 1), y = h - 4 * ratio - (h - 8 * ratio) * Math.min(Math.max(v / top, 0), 1);
          if (pen) c.lineTo(x, y); else c.moveTo(x, y);
          pen = true;
        }
        c.stroke();
      };
      line(ring.speed, 8000, '--ochre', [7, 4]);
      line(ring.torque, 400, '--blue', []);
    };
    const ask = () => { if (!due) { due = true; requestAnimationFrame(draw); } };
    drawers.add(ask);
    ask();
    return () => { drawers.delete(ask); };
  }, []);
  return <figure class="trend"><canvas ref={canvas} aria-hidden="true" /><figcaption class="quiet"><b class="blue">torque</b> to 400&thinsp;N·m, solid; <b class="ochre">speed</b> to 8,000&thinsp;rpm, dashed; the last minute</figcaption></figure>;
}

function Control() {
  const running = state.value?.running ?? false;
  const [source, setSource] = useState('practice:?rate=100');
  const [changed, setChanged] = useState('');
  const [note, setNote] = useState('');
  const control = (line: string) => () => { api.liveControl(line).catch(complain); };
  const start = (e: Event) => {
    e.preventDefault();
    api.liveStart(source, changed).then((r) => { if (r.own_book) say(`Practice goes into a book of its own: ${r.own_book}`); void refresh(); }, complain);
  };
  if (!running) return (
    <form class="card stack" onSubmit={start}>
      <h2>Begin</h2>
      <label>Source <input required value={source} onInput={(e) => setSource(e.currentTarget.value)} list="sources" /></label>
      <datalist id="sources"><option value="practice:?rate=100" /><option value="tcp://192.0.2.7:5000" /><option value="serial:/dev/ttyUSB0" /></datalist>
      <label>Changed <input value={changed} placeholder="what changed since the last pull" onInput={(e) => setChanged(e.currentTarget.value)} /></label>
      <button type="submit">Begin recording</button>
      <p class="quiet">practice: is an invented engine in a simulated cell. What this page asks of a dyno is a request and no safety device: a hard-wired stop, an overspeed trip, and gas and fire systems of their own remain necessary.</p>
    </form>
  );
  const practice = state.value?.source?.startsWith('practice:');
  return (
    <section class="card">
      <h2>Recording <span class="quiet">{state.value?.source}</span></h2>
      <form class="line-form" onSubmit={(e) => { e.preventDefault(); api.liveControl('mark ' + note).then(() => setNote(''), complain); }}>
        <label>Mark <input required maxLength={300} value={note} placeholder="what you see or hear" onInput={(e) => setNote(e.currentTarget.value)} /></label><button type="submit">Mark</button>
      </form>
      {practice && <p class="tools">
        <button type="button" onClick={control('send start')}>Start the engine</button>
        <button type="button" onClick={control('send oil 90')}>Oil warm</button>
        <button type="button" onClick={control('send coolant 80')}>Coolant warm</button>
        <button type="button" onClick={control('send speed 3000')}>Hold 3,000</button>
        <button type="button" onClick={control('send sweep 2500 6500 300')}>Pull to 6,500</button>
        <button type="button" onClick={control('send stop')}>Stop the engine</button>
      </p>}
      <p class="tools"><button type="button" onClick={() => { api.liveStop().then(() => { setTimeout(() => void refresh(), 800); }, complain); }}>Stop recording</button></p>
    </section>
  );
}

/* A source's own name in front of each of its lines says nothing to a person at the window. */
function plain(n: LiveNews): string {
  const source = n.news['source'];
  const text = typeof source === 'string' && n.text ? n.text.replace(source + ': ', '') : n.text ?? '';
  return words(text.replace(/^reply: /, 'cell: '));
}

const graveEvents = new Set(['alarm', 'gap', 'storage', 'failed', 'recovered']);

function News() {
  const lines = news.value.filter((n) => n.text).slice(-10).reverse();
  return (
    <section class="card" aria-label="What happened"><h2>What happened</h2>
      {lines.length === 0 ? <p class="quiet">Nothing yet.</p> :
        <ul class="news">{lines.map((n, i) => <li key={(n.news.at ?? '') + i} class={graveEvents.has(n.news.event) ? 'grave' : n.news.event}><span class="quiet">{n.news.at?.slice(11, 19)}</span> {plain(n)}</li>)}</ul>}
    </section>
  );
}

function Alarms() {
  const all = [...standing.value];
  if (all.length === 0) return null;
  const clear = (name: string) => () => { api.liveControl('clear ' + name).catch(complain); };
  return (
    <div role="alert">
      {all.map(([name, a]) => <p key={name} class={'alarm ' + String(a.news['action']).replaceAll(' ', '-')}><span>{words(a.text ?? '')}</span><button type="button" onClick={clear(name)}>Clear</button></p>)}
      {all.length > 1 && <p class="tools"><button type="button" onClick={clear('all')}>Clear all</button></p>}
    </div>
  );
}

function Heroes() {
  const speed = value('speed'), torque = value('torque');
  const power = speed == null || torque == null ? null : torque * speed * Math.PI / 30;
  return (
    <div class="heroes" role="group" aria-label="Live figures">
      <Big label="Speed" inside={speed == null ? null : Math.round(speed / 10) * 10} decimals={0} unit="rpm" />
      <Big label="Torque, observed" kind="torque" inside={torque} decimals={0} />
      <Big label="Power, observed" kind="power" inside={power} decimals={0} />
    </div>
  );
}

function Freshness() {
  const since = frame.value ? (now.value - arrived.value) / 1000 : null;
  if (!old.value) return <p class="fresh">live</p>;
  return <p class="fresh gone">{!state.value?.running ? 'not recording' : since == null ? 'waiting for data' : `NO DATA for ${fixed(since, 0)} s: what was shown is old`}</p>;
}

export function LiveScreen() {
  useEffect(() => { void refresh(); }, []);
  void units.value;
  if (!state.value) return <p class="quiet lone">Looking into the cell…</p>;
  return (
    <div class="live">
      <Alarms />
      <Freshness />
      <Heroes />
      <div class="gauges">{state.value.gauges.map((g) => <Gauge key={g.key} gauge={g} />)}</div>
      <Trend />
      <div class="columns"><Control /><News /></div>
      <p><a href="#/window">The window: for the customer</a></p>
      <p class="quiet">Bands are starting points for a shop (common practice, no source) and give way to the makers' figures.</p>
    </div>
  );
}

/* The window: what a customer may see, without names, bands or controls. */
export function WindowScreen() {
  useEffect(() => { void refresh(); }, []);
  const last = news.value.filter((n) => n.news.event === 'pull' && n.text).slice(-1)[0];
  return (
    <div class="window">
      <h1>{book.value?.settings['shop'] ?? ''}</h1>
      <Freshness />
      <Heroes />
      <Trend />
      {last && <p class="next-step">{last.text}</p>}
    </div>
  );
}
