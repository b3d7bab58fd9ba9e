/* The curve of one pull, and under it its channels against time, one under the other on one cursor. The cursor
 * on the curve marks the time at which that speed was passed, and the cursor in time marks the speed; a figure
 * walked back is shaded as the stretch it came from. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import { signal, type Signal } from '@preact/signals';
import { api, type Channels, type ChannelSeries, type PullCurve } from './api';
import { useAsked } from './answered';
import { changes, units } from './state';
import { WaitingHere } from './waiting';
import { fixed, rpm, shown, unitOf } from './format';
import { Plot, type Line } from './plot';
import { t, tn, inWords } from './words';

const first = ['speed', 'torque', 'oil_pressure', 'lambda'];

function labelOf(channels: Channels, key: string): { label: string; kind: string; why: string } {
  const found = channels.available.find((c) => c.key === key);
  return found ? { label: found.label + (found.index > 0 ? `, ${found.index}` : ''), kind: found.kind, why: found.why.text } : { label: key, kind: '', why: '' };
}

type Points = { time_s: number[]; value: (number | null)[] };
const nearestIndex = (list: number[], wanted: number) => list.reduce((best, v, i) => Math.abs(v - wanted) < Math.abs(list[best]! - wanted) ? i : best, 0);

function speedAt(speed: Points, at: number): number | null {
  return speed.value[nearestIndex(speed.time_s, at)] ?? null;
}
/* When this speed was nearest, within the part that counts. */
function timeAt(speed: Points, rpmValue: number, from: number, to: number): number | null {
  let best: number | null = null, away = Infinity;
  speed.value.forEach((v, i) => {
    const at = speed.time_s[i]!;
    if (v != null && at >= from && at <= to && Math.abs(v - rpmValue) < away) { away = Math.abs(v - rpmValue); best = at; }
  });
  return best;
}

function CurveAbove({ curve, follow, onMove, onPick }: { curve: PullCurve; follow: Signal<number | null>; onMove: (x: number) => void; onPick: (x: number) => void }) {
  const system = units.value;
  const lines = useMemo<Line[]>(() => [{ label: 'corrected torque', name: t('pull {pull}', { pull: curve.id }), x: curve.curve.speed_rpm, y: curve.curve.torque_n_m.map((v) => v == null ? null : shown('torque', v)),
    half: curve.curve.torque_comparative_n_m.map((h) => h == null ? null : h * Math.abs(shown('torque', 1) - shown('torque', 0))), ink: 'blue', decimals: 1 }], [curve, system]);
  return <Plot title={t('corrected torque, {unit}', { unit: unitOf('torque') })} lines={lines} height={220} xLabel="rpm" left={unitOf('torque')} follow={follow} onMove={onMove} onPick={onPick} />;
}

interface OneProps { channels: Channels; series: ChannelSeries; shade: { low: number; high: number }; follow: Signal<number | null>; onMove: (at: number) => void; onPick: (at: number) => void }
function One({ channels, series, shade, follow, onMove, onPick }: OneProps) {
  const { label, kind, why } = labelOf(channels, series.key), system = units.value;
  const lines = useMemo<Line[]>(() => {
    const show = (v: number | null) => v == null ? null : kind ? shown(kind, v) : v;
    const touched = series.flagged.filter((f) => f.value != null);
    return [{ label, name: t('cleaned'), x: series.time_s, y: series.value.map(show), ink: 'blue', decimals: kind === 'lambda' ? 3 : 1 },
      ...(touched.length ? [{ label: 'touched by cleaning', name: t('touched'), dots: true, x: touched.map((f) => f.time_s), y: touched.map((f) => show(f.value)), ink: 'ochre' as const }] : [])];
  }, [series, kind, system]);
  const unit = unitOf(kind);
  return (<>
    <Plot title={label + (unit ? `, ${unit}` : '')} lines={lines} height={150} xLabel={channels.timed ? 's' : t('row of the table')} xDecimals={channels.timed ? 2 : 0} left={unit} sync="time" shade={shade} follow={follow} onMove={onMove} onPick={onPick} />
    <p class="quiet">{why}; {series.flagged_count > 0 ? tn('{n} sample flagged: {what}', '{n} samples flagged: {what}', series.flagged_count, { what: [...new Set(series.flagged.map((f) => f.what))].map(inWords).join(', ') }) : t('nothing flagged')}</p>
  </>);
}

export function ChannelsView({ pull, curve, asked, onSpeed }: { pull: number; curve: PullCurve | null; asked: number | null; onSpeed: (rpm: number) => void }) {
  const [atSpeed, atTime] = useMemo(() => [signal<number | null>(null), signal<number | null>(null)] as const, [pull]);
  const [speed, setSpeed] = useState<Points | null>(null);
  const [wanted, setWanted] = useState<string[]>(['speed', 'torque']);
  useEffect(() => {
    let gone = false;
    api.channels(pull, ['speed', 'torque']).then((c) => {
      if (!gone) setSpeed(c.series.find((s) => s.key === 'speed') ?? null);
      if (!gone) setWanted(first.filter((key) => c.available.some((a) => a.key === key)));
    }, () => 0); /* what is refused is said by the question below, which asks for the same */
    return () => { gone = true; };
  }, [pull]);
  const { answer: channels, why } = useAsked(`channels-${pull}`, () => api.channels(pull, wanted), [wanted.join(), changes.value]);
  const { answer: origin } = useAsked(`explain-${pull}-${asked ?? ''}`, asked == null ? null : () => api.explain(pull, asked));
  const counts = useMemo(() => channels ? { low: channels.counts_from_s, high: channels.counts_to_s } : { low: 0, high: 0 }, [channels]);
  const shade = useMemo(() => origin ? { low: origin.first_s, high: origin.last_s } : counts, [origin, counts]);
  if (!channels) return <WaitingHere says="Reading the samples…" why={why} />;
  const onTime = (at: number) => { if (speed) atSpeed.value = speedAt(speed, at); };
  const onCurve = (x: number) => { if (speed) atTime.value = timeAt(speed, x, channels.counts_from_s, channels.counts_to_s); };
  const pick = (at: number) => { const value = speed && speedAt(speed, at); if (value != null) onSpeed(value); };
  const toggle = (key: string) => setWanted(wanted.includes(key) ? wanted.filter((k) => k !== key) : [...wanted, key]);
  return (
    <section aria-label="Channels">
      <p>{t('Pull {pull}, {recording}: {samples} samples.', { pull, recording: channels.recording, samples: fixed(channels.samples, 0) })}{' '}
        {origin ? t('Shaded: the stretch that {speed} rpm came from, {first} to {last} s.', { speed: rpm(origin.speed_rpm), first: fixed(origin.first_s, 2), last: fixed(origin.last_s, 2) }) : t('Shaded: the part that counts.')} {t('The cursor on the curve marks its time below, and the other way round. Click a place, or press Enter on it, to walk the curve back at its speed.')}</p>
      {curve && <CurveAbove curve={curve} follow={atSpeed} onMove={onCurve} onPick={onSpeed} />}
      <fieldset class="ticks-row"><legend>Channels</legend>
        {channels.available.map((c) => <label key={c.key}><input type="checkbox" checked={wanted.includes(c.key)} disabled={!wanted.includes(c.key) && wanted.length >= 8} onChange={() => toggle(c.key)} /> {labelOf(channels, c.key).label}</label>)}
      </fieldset>
      {why && <WaitingHere says="" why={why} />}
      {channels.series.map((s) => <One key={s.key} channels={channels} series={s} shade={shade} follow={atTime} onMove={onTime} onPick={pick} />)}
    </section>
  );
}
