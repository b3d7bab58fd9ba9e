/* Inside a cylinder at one predicted speed: pressures at the ports with the valve events, pressure over volume, burned share. Asked for
 * when it is opened, and again when the curve above has been refined: until then the page carries none of it. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { InsideAnswer, PredictedCurve, PredictQuestion } from './api';
import { fixed, rpm, shown, unitOf, words } from './format';
import { follow } from './predict_job';
import { Plot, type Line } from './plot';
import { units } from './state';
import { inWords, t } from './words';

type Values = (number | null)[];
type View = 'ports' | 'cylinder' | 'loop' | 'exchange' | 'burned';
const BAR = 'mean effective pressure'; /* bar and psi; what is shown is absolute */
const views: { key: View; label: string }[] = [
  { key: 'ports', label: 'pressure at the ports and in the pipes' }, { key: 'cylinder', label: 'cylinder pressure' }, { key: 'loop', label: 'pressure over volume' },
  { key: 'exchange', label: 'pressure over volume, the gas exchange enlarged' }, { key: 'burned', label: 'burned share of the charge' },
];
const BURNING = [-60, 120] as const, STROKE = 180;
const strokesOf = () => [t('compression stroke'), t('power stroke'), t('exhaust stroke'), t('inlet stroke')];

const inBar = (values: Values): Values => values.map((v) => v == null ? null : shown(BAR, v));

/* One stroke each, so that volume only rises or only falls along a line. */
function loopOf(a: InsideAnswer, most: number): Line[] {
  const p = inBar(a.cylinder_pa), v = a.volume_m3.map((one) => one == null ? null : shown('volume', one));
  return strokesOf().map((name, k): Line => {
    const at = Array.from({ length: STROKE + 1 }, (_x, i) => (k * STROKE + i) % p.length).filter((i) => v[i] != null && (p[i] ?? Infinity) <= most);
    return { label: name, x: at.map((i) => v[i]!), y: at.map((i) => p[i]!), ink: k < 2 ? 'violet' : k === 2 ? 'ochre' : 'blue', decimals: 2, ...(k === 0 ? { dash: [5, 4] } : {}) };
  });
}

/* Against the crank; angles of a pin that is offset, or of a trace cut short, come as they are. */
const over = (a: InsideAnswer, label: string, y: Values, ink: Line['ink'], dash?: number[]): Line => ({ label, x: a.angle_deg, y, ink, decimals: 2, ...(dash ? { dash } : {}) });

function linesOf(a: InsideAnswer, view: View): Line[] {
  if (view === 'ports') return [over(a, t('at the inlet valve'), inBar(a.inlet_port_pa), 'blue'), over(a, t('runner, far end'), inBar(a.inlet_far_end_pa), 'blue', [4, 4]), over(a, t('at the exhaust valve'), inBar(a.exhaust_port_pa), 'ochre'), over(a, t('primary, far end'), inBar(a.exhaust_far_end_pa), 'ochre', [4, 4])];
  if (view === 'cylinder') return [over(a, t('cylinder pressure'), inBar(a.cylinder_pa), 'violet')];
  if (view === 'burned') {
    const within = a.angle_deg.map((d, i) => d >= BURNING[0] && d <= BURNING[1] ? i : -1).filter((i) => i >= 0);
    return [{ label: t('burned share'), x: within.map((i) => a.angle_deg[i]!), y: within.map((i) => a.burned_fraction[i] == null ? null : 100 * a.burned_fraction[i]!), ink: 'violet', decimals: 1 }];
  }
  const ports = [...a.inlet_port_pa, ...a.exhaust_port_pa].flatMap((p) => p == null ? [] : [shown(BAR, p)]);
  return loopOf(a, view === 'exchange' ? 1.15 * Math.max(...ports) : Infinity);
}

/* Valve events, from -180 to 540 as the angles are. */
function marksOf(a: InsideAnswer): { x: number; label: string }[] {
  const names = [[t('inlet opens'), t('inlet closes')], [t('exhaust opens'), t('exhaust closes')]] as const;
  return names.flatMap(([opens, closes], side) => [[opens, a.opens_deg[side]], [closes, a.closes_deg[side]]] as const)
    .flatMap(([label, deg]) => deg == null ? [] : [{ x: deg >= 540 ? deg - 720 : deg, label }]).sort((p, q) => p.x - q.x);
}

function Drawing({ a, view }: { a: InsideAnswer; view: View }) {
  const lines = useMemo(() => linesOf(a, view), [a, view, units.value]), marks = useMemo(() => marksOf(a), [a]);
  const label = views.find((v) => v.key === view)!.label, volume = view === 'loop' || view === 'exchange', unit = view === 'burned' ? '%' : t('{unit} absolute', { unit: unitOf(BAR) });
  return <Plot title={t('predicted: {what}', { what: `${inWords(label)}, ${unit}` })} lines={lines} height={300} left={unit} gutter={view === 'ports' ? 160 : view === 'cylinder' || view === 'burned' ? 120 : 140} take="inside"
    xLabel={volume ? t('volume, {unit}', { unit: unitOf('volume') }) : t('crank degrees after firing top dead centre')} floor={view !== 'ports'} {...(view === 'ports' ? { marks } : {})} />;
}

function Figures({ a }: { a: InsideAnswer }) {
  const bar = (pa: number | null) => pa == null ? '–' : `${fixed(shown(BAR, pa), 1)}\u202f${unitOf(BAR)}`, deg = (d: number | null) => d == null ? '–' : fixed(d, 0);
  return (<>
    <p>{t('Spark {spark}° before top dead centre; 10, 50 and 90 % burned at {ten}, {half} and {ninety}°; highest pressure {peak} at {at}°, steepest rise {rise} a degree.',
      { spark: fixed(a.spark_deg, 1), ten: deg(a.ca10_deg), half: deg(a.ca50_deg), ninety: deg(a.ca90_deg), peak: bar(a.peak_pressure_pa), at: deg(a.peak_deg), rise: bar(a.pressure_rise_pa_deg) })} {a.knock_limited ? t('Knock holds the spark back.') : ''}</p>
    {a.not_converged_because && <p class="warned">{t('Did not settle at {where}', { where: `${rpm(a.speed_rpm)}: ${words(a.not_converged_because.text)}` })}</p>}
    <p class="quiet">{t('Net mean effective pressure {net}, of it gas exchange {exchange}. Valves count as open from {lift} mm of lift on.', { net: bar(a.imep_pa), exchange: bar(a.pmep_pa), lift: fixed(1000 * a.lift_m, 0) })}</p>
  </>);
}

const ofPower = (now: PredictedCurve) => now.speed_rpm[now.power_w.reduce((best: number, p, i) => (p ?? -Infinity) > (now.power_w[best] ?? -Infinity) ? i : best, 0)]!;

export function InsideCard({ question, now, stage }: { question: () => Omit<PredictQuestion, 'page'>; now: PredictedCurve; stage: 'coarse' | 'fine' }) {
  const [open, setOpen] = useState(false), [chosen, setChosen] = useState<number | null>(null), [view, setView] = useState<View>('ports');
  const [answer, setAnswer] = useState<InsideAnswer | null>(null), [of, setOf] = useState<PredictedCurve | null>(null), [refused, setRefused] = useState<string | null>(null);
  const speed = chosen != null && now.speed_rpm.includes(chosen) ? chosen : ofPower(now), system = units.value;
  useEffect(() => {
    if (!open || stage !== 'fine') return undefined;
    let wanted = true;
    setRefused(null);
    follow<InsideAnswer>('/inside', { ...question(), from_speed: speed, to_speed: speed, cell: `${now.cell_m} m` })
      .then((a) => { if (a && wanted) { setAnswer(a); setOf(now); } }, (e: unknown) => { if (wanted) { setAnswer(null); setRefused(e instanceof Error ? e.message : String(e)); } });
    return () => { wanted = false; };
  }, [open, speed, now, stage, system]);
  const late = of !== now || answer?.speed_rpm !== speed;
  return (
    <details class="card inside" onToggle={(e) => setOpen(e.currentTarget.open)}><summary><h2>Inside a cylinder</h2></summary>
      <p class="tools"><label>{t('speed')} <select value={speed} onChange={(e) => setChosen(Number(e.currentTarget.value))}>{now.speed_rpm.map((n) => <option key={n} value={n}>{rpm(n)}</option>)}</select></label>
        <label>{t('Show')} <select value={view} onChange={(e) => setView(e.currentTarget.value as View)}>{views.map((v) => <option key={v.key} value={v.key}>{inWords(v.label)}</option>)}</select></label>
        {open && late && !refused && <span class="quiet" role="status">{stage === 'fine' ? t('running…') : t('follows when the curve is refined')}</span>}</p>
      {refused && <p class="problem" role="alert">{words(refused)}</p>}
      {answer && <div class={late ? 'late' : ''}><Drawing a={answer} view={view} /><h3>{t('Cylinder {n} at {speed} rpm', { n: answer.cylinder, speed: rpm(answer.speed_rpm) })}</h3><Figures a={answer} /></div>}
    </details>
  );
}
