/* Drawings of our own of the part at hand, to scale where the figures are known; what is not to scale says so. */
import type { ComponentChildren } from 'preact';
import { useMemo } from 'preact/hooks';
import type { EngineCheck, Typed } from './api';
import { read } from './engine_faults';
import { quantity, shown, unitOf } from './format';
import { Plot, type Line } from './plot';
import { units } from './state';
import { t } from './words';

const length = (v: number) => quantity('length', v, units.value === 'us' ? 3 : 1);
/* "86 mm", "3.386 in": for the drawing alone; what it cannot read is not drawn. */
function metres(text: string): number | null {
  const [, figure, unit = ''] = /^\s*([\d.,]+)\s*(mm|cm|m|in|")\s*$/.exec(text) ?? [], size = { mm: 1e-3, cm: 1e-2, m: 1, in: .0254, '"': .0254 }[unit], value = figure ? Number(figure.replace(',', '.')) : NaN;
  return size && value > 0 ? value * size : null;
}
const Figure = ({ says, box, children }: { says: string; box: string; children: ComponentChildren }) => <section class="card drawing"><svg viewBox={box} role="img" aria-label={says}>{children}</svg><p class="quiet">{says}</p></section>;

/* Bore, stroke and rod from what follows of them: V = π/4 b² s, b/s, and rod over stroke. */
export function CylinderDrawing({ check }: { check: EngineCheck }) {
  const figure = (key: string) => { const v = (check as unknown as Record<string, unknown>)[key]; return typeof v === 'number' ? v : null; };
  const swept = figure('swept_volume_m3'), ratio = figure('bore_over_stroke'), rods = figure('rod_ratio');
  if (!swept || !ratio) return null;
  const stroke = Math.cbrt(4 * swept / (Math.PI * ratio * ratio)), bore = ratio * stroke, rod = rods ? rods * stroke : null, throwOf = stroke / 2;
  const high = (rod ?? 1.7 * stroke) + throwOf + .45 * bore, scale = 250 / (high + throwOf), mid = 150, top = 20, x = (v: number) => mid + v * scale;
  const crank = top + (high) * scale, turn = Math.PI / 4, pin = { x: throwOf * Math.sin(turn), y: throwOf * Math.cos(turn) };
  const reach = rod ? Math.sqrt(rod * rod - pin.x * pin.x) : 0, gudgeon = crank - (pin.y + reach) * scale, crown = (at: number) => at - .45 * bore * scale;
  const dead = rod ? crown(crank - (rod + throwOf) * scale) : top, low = dead + stroke * scale;
  const words = rod ? t('One cylinder, to scale: bore {bore}, stroke {stroke}, rod {rod}. The height of the piston is not known and not to scale.', { bore: length(bore), stroke: length(stroke), rod: length(rod) }) : t('One cylinder, to scale: bore {bore}, stroke {stroke}. The rod is not stated.', { bore: length(bore), stroke: length(stroke) });
  return (
    <Figure says={words} box="0 -16 300 316">
      <path class="metal" d={`M${x(-bore / 2) - 12} ${dead - 8}H${x(-bore / 2)}V${low + 20}H${x(-bore / 2) - 12}ZM${x(bore / 2)} ${dead - 8}H${x(bore / 2) + 12}V${low + 20}H${x(bore / 2)}Z`} />
      <circle class="outline" cx={mid} cy={crank} r={throwOf * scale} />
      {rod && <><rect class="piston" x={x(-bore / 2) + 1} y={crown(gudgeon)} width={bore * scale - 2} height={.75 * bore * scale} />
        <line class="rod" x1={mid} y1={gudgeon} x2={mid + pin.x * scale} y2={crank - pin.y * scale} /><line class="throw" x1={mid} y1={crank} x2={mid + pin.x * scale} y2={crank - pin.y * scale} /></>}
      <path class="arrow" d={`M${x(bore / 2) + 26} ${dead}V${low}M${x(bore / 2) + 20} ${dead}h12M${x(bore / 2) + 20} ${low}h12`} /><text x={x(bore / 2) + 32} y={(dead + low) / 2}>{length(stroke)}</text>
      <path class="arrow" d={`M${x(-bore / 2)} 12H${x(bore / 2)}M${x(-bore / 2)} 7v10M${x(bore / 2)} 7v10`} /><text x={mid} y="2" text-anchor="middle">{length(bore)}</text>
    </Figure>
  );
}

/* Pipes one behind the other, length and bore on one scale. */
function Pipes({ says, pipes }: { says: string; pipes: [string, number, number][] }) {
  const whole = pipes.reduce((sum, [, l]) => sum + l, 0), scale = 560 / whole, tallest = Math.max(...pipes.map(([, , d]) => d * scale), 8);
  let at = 20;
  const mid = 24 + tallest / 2;
  return (
    <Figure says={says} box={`0 0 600 ${Math.ceil(tallest + 70)}`}>
      {pipes.map(([name, l, d], i) => { const from = at, wide = l * scale, tall = Math.max(d * scale, 2); at += wide; return (
        <g key={name}><rect class="pipe" x={from} y={mid - tall / 2} width={wide} height={tall} /><text x={from + wide / 2} y={i % 2 ? 14 : mid + tallest / 2 + 18} text-anchor="middle">{`${name} ${length(l)} × ${length(d)}`}</text></g>); })}
      <path class="valve" d={`M20 ${mid - 14}V${mid + 14}`} /><text x="20" y={mid + tallest / 2 + 36}>valve</text>
    </Figure>
  );
}
export function PipeDrawing({ typed, side }: { typed: Typed; side: 'intake' | 'exhaust' }) {
  const get = (name: string) => metres(read(typed, ['breathing', name]));
  const wanted: [string, string, string][] = side === 'intake' ? [[t('runner'), 'runner_length', 'runner_diameter']] : [[t('primary'), 'primary_length', 'primary_diameter'], [t('collector'), 'collector_length', 'collector_diameter']];
  const pipes = wanted.flatMap(([name, l, d]): [string, number, number][] => { const long = get(l), wide = get(d); return long && wide ? [[name, long, wide]] : []; });
  if (pipes.length === 0) return null;
  return <Pipes pipes={pipes} says={side === 'intake' ? t('Inlet tract of one cylinder, length and bore to one scale, its mouth at the right.') : t('Exhaust of one cylinder, length and bore to one scale, the open air at the right.')} />;
}

export function LiftDrawings({ check }: { check: EngineCheck }) {
  const c = check.curves, scale = Math.abs(shown('length', 1) - shown('length', 0));
  const line = (y: (number | null)[] | undefined, label: string, ink: 'blue' | 'ochre', dash?: number[]): Line[] => y
    ? [{ label, name: label, x: c.angle_deg, y: y.map((v) => v == null ? null : v * scale), ink, atPeak: true, ...(dash ? { dash } : {}), decimals: 2 }] : [];
  const lift = useMemo(() => [...line(c.exhaust_lift_m, 'exhaust', 'ochre', [8, 5]), ...line(c.inlet_lift_m, 'inlet', 'blue')], [check, units.value]);
  const near = useMemo(() => {
    const cut = (v: (number | null)[] | undefined) => v?.map((y, i) => Math.abs(c.angle_deg[i]!) <= 60 ? y : null);
    return [...line(cut(c.exhaust_clearance_m), 'exhaust', 'ochre', [8, 5]), ...line(cut(c.inlet_clearance_m), 'inlet', 'blue')].map((l) => {
      const keep = l.x.map((_x, i) => l.y[i] != null);
      return { ...l, atPeak: false, x: l.x.filter((_x, i) => keep[i]), y: l.y.filter((_y, i) => keep[i]) };
    });
  }, [check, units.value]);
  return (<>
    {lift.length > 0 && <Plot title={t('valve lift, {unit}, against crank angle; 0 is top dead centre on overlap', { unit: unitOf('length') })} lines={lift} height={240} xLabel="degrees" left={unitOf('length')} sync="cam" floor />}
    {near.length > 0 && <Plot title={t('valve to piston, {unit}, around overlap, with running lash', { unit: unitOf('length') })} lines={near} height={220} xLabel="degrees" left={unitOf('length')} sync="cam" zero />}
  </>);
}
