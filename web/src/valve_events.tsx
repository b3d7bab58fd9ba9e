/* When the valves open and close, on the crank's circle: dead centres above and below, one turn clockwise, a ring a side. */
import type { EngineCheck, ValveEvents } from './api';
import { fixed, quantity } from './format';
import { t } from './words';

const point = (deg: number, r: number) => `${(150 + r * Math.sin(deg * Math.PI / 180)).toFixed(1)} ${(130 - r * Math.cos(deg * Math.PI / 180)).toFixed(1)}`;
function arc(from: number, to: number, r: number): string {
  const parts = [`M ${point(from, r)}`];
  for (let at = from; at < to; at = Math.min(at + 90, to)) parts.push(`A ${r} ${r} 0 0 1 ${point(Math.min(at + 90, to), r)}`);
  return parts.join(' ');
}
const degrees = (value: number) => `${fixed(Math.abs(value), 0)}°`;
const top = (value: number) => value >= 0 ? t('{angle} before top dead centre', { angle: degrees(value) }) : t('{angle} after top dead centre', { angle: degrees(value) });
const bottom = (value: number) => value >= 0 ? t('{angle} before bottom dead centre', { angle: degrees(value) }) : t('{angle} after bottom dead centre', { angle: degrees(value) });

function Mark({ at, text, kind }: { at: number; text: string; kind: string }) {
  const turn = ((at % 360) + 360) % 360, right = turn < 180, [x, y] = point(at, 100).split(' ');
  return <text class={kind} x={x} y={Number(y) + 4} text-anchor={right ? 'start' : 'end'}>{text}</text>;
}

function Diagram({ e }: { e: ValveEvents }) {
  const open = { inlet: -e.inlet_opens_btdc, exhaust: 180 - e.exhaust_opens_bbdc }, shut = { inlet: 180 + e.inlet_closes_abdc, exhaust: 360 + e.exhaust_closes_atdc };
  const words = t('At {lift} of lift: inlet opens {inlet_opens} and closes {inlet_closes}; exhaust opens {exhaust_opens} and closes {exhaust_closes}; overlap {overlap}°.',
    { lift: quantity('length', e.lift_m, 2), inlet_opens: top(e.inlet_opens_btdc), inlet_closes: bottom(-e.inlet_closes_abdc), exhaust_opens: bottom(e.exhaust_opens_bbdc), exhaust_closes: top(-e.exhaust_closes_atdc), overlap: fixed(e.overlap, 0) });
  return (
    <figure class="valve-events">
      <svg viewBox="-70 0 440 262" role="img" aria-label={words}>
        <line class="axis" x1="150" x2="150" y1="20" y2="240" />
        <text x="150" y="14" text-anchor="middle">top dead centre</text><text x="150" y="258" text-anchor="middle">bottom dead centre</text>
        <path class="inlet" d={arc(open.inlet, shut.inlet, 84)} /><path class="exhaust" d={arc(open.exhaust, shut.exhaust, 64)} />
        <Mark kind="inlet-word" at={open.inlet} text={t('inlet opens {angle}', { angle: degrees(e.inlet_opens_btdc) })} /><Mark kind="inlet-word" at={shut.inlet} text={t('closes {angle}', { angle: degrees(e.inlet_closes_abdc) })} />
        <Mark kind="exhaust-word" at={open.exhaust} text={t('exhaust opens {angle}', { angle: degrees(e.exhaust_opens_bbdc) })} /><Mark kind="exhaust-word" at={shut.exhaust} text={t('closes {angle}', { angle: degrees(e.exhaust_closes_atdc) })} />
        <text class="overlap-word" x="150" y="134" text-anchor="middle">{t('overlap {angle}°', { angle: fixed(e.overlap, 0) })}</text>
      </svg>
      <figcaption>{words}</figcaption>
    </figure>
  );
}

export function ValveEventsCard({ check }: { check: EngineCheck }) {
  const sets = [check.valve_events_deg?.at_duration_lift, check.valve_events_deg?.at_check_lift].filter((e): e is ValveEvents => e != null);
  if (sets.length === 0) return null;
  return <section class="card"><h2>Valve events</h2><div class="valve-pair">{sets.map((e) => <Diagram key={e.lift_m} e={e} />)}</div></section>;
}
