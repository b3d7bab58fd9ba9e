/* The channels of one pull against time, one under the other on one cursor. A place picked here is the
 * speed that the curve walks back; a figure walked back is shaded here as the stretch it came from. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import { api, type Channels, type ChannelSeries, type Origin } from './api';
import { complain, units } from './state';
import { fixed, rpm, shown, unitOf } from './format';
import { Plot, type Line } from './plot';

const first = ['speed', 'torque', 'oil_pressure', 'lambda'];

function labelOf(channels: Channels, key: string): { label: string; kind: string; why: string } {
  const found = channels.available.find((c) => c.key === key);
  return found ? { label: found.label + (found.index > 0 ? `, ${found.index}` : ''), kind: found.kind, why: found.why } : { label: key, kind: '', why: '' };
}

function One({ channels, series, shade, onPick }: { channels: Channels; series: ChannelSeries; shade: { low: number; high: number }; onPick: (at: number) => void }) {
  const { label, kind, why } = labelOf(channels, series.key), system = units.value;
  const lines = useMemo<Line[]>(() => {
    const show = (v: number | null) => v == null ? null : kind ? shown(kind, v) : v;
    const touched = series.flagged.filter((f) => f.value != null);
    return [{ label, name: '', x: series.time_s, y: series.value.map(show), ink: 'blue', decimals: kind === 'lambda' ? 3 : 1 },
      ...(touched.length ? [{ label: 'touched by cleaning', name: 'touched', dots: true, x: touched.map((f) => f.time_s), y: touched.map((f) => show(f.value)), ink: 'ochre' as const }] : [])];
  }, [series, kind, system]);
  const unit = unitOf(kind);
  return (<>
    <Plot title={label + (unit ? `, ${unit}` : '')} lines={lines} height={150} xLabel="s" xDecimals={2} left={unit} sync="time" shade={shade} onPick={onPick} />
    <p class="quiet">{why}{series.flagged_count > 0 ? `; ${series.flagged_count} samples flagged: ${[...new Set(series.flagged.map((f) => f.what))].join(', ')}` : '; nothing flagged'}</p>
  </>);
}

export function ChannelsView({ pull, asked, onSpeed }: { pull: number; asked: number | null; onSpeed: (rpm: number) => void }) {
  const [channels, setChannels] = useState<Channels | null>(null);
  const [wanted, setWanted] = useState<string[]>(['speed', 'torque']);
  const [origin, setOrigin] = useState<Origin | null>(null);
  useEffect(() => {
    let gone = false;
    api.channels(pull, ['speed', 'torque']).then((c) => {
      if (!gone) setWanted(first.filter((key) => c.available.some((a) => a.key === key)));
    }, complain);
    return () => { gone = true; };
  }, [pull]);
  useEffect(() => {
    let gone = false;
    api.channels(pull, wanted).then((c) => { if (!gone) setChannels(c); }, (e: unknown) => { if (!gone) complain(e); });
    return () => { gone = true; };
  }, [pull, wanted.join()]);
  useEffect(() => {
    let gone = false;
    setOrigin(null);
    if (asked != null) api.explain(pull, asked).then((o) => { if (!gone) setOrigin(o); }, complain);
    return () => { gone = true; };
  }, [pull, asked]);
  const counts = useMemo(() => channels ? { low: channels.counts_from_s, high: channels.counts_to_s } : { low: 0, high: 0 }, [channels]);
  const shade = useMemo(() => origin ? { low: origin.first_s, high: origin.last_s } : counts, [origin, counts]);
  if (!channels) return <p class="quiet">Reading the samples…</p>;
  const speed = channels.series.find((s) => s.key === 'speed');
  const pick = (at: number) => {
    if (!speed) return;
    const near = speed.time_s.reduce((best, t, i) => Math.abs(t - at) < Math.abs(speed.time_s[best]! - at) ? i : best, 0);
    const value = speed.value[near];
    if (value != null) onSpeed(value);
  };
  const toggle = (key: string) => setWanted(wanted.includes(key) ? wanted.filter((k) => k !== key) : [...wanted, key]);
  return (
    <section aria-label="Channels">
      <p>Pull {pull}, {channels.recording}: {fixed(channels.samples, 0)} samples.{' '}
        {origin ? <>Shaded: the stretch that {rpm(origin.speed_rpm)}&thinsp;rpm came from, {fixed(origin.first_s, 2)} to {fixed(origin.last_s, 2)}&thinsp;s.</> : 'Shaded: the part that counts.'} Click a place, or press Enter on it, to walk the curve back at its speed.</p>
      <fieldset class="ticks-row"><legend>Channels</legend>
        {channels.available.map((c) => <label key={c.key}><input type="checkbox" checked={wanted.includes(c.key)} disabled={!wanted.includes(c.key) && wanted.length >= 8} onChange={() => toggle(c.key)} /> {labelOf(channels, c.key).label}</label>)}
      </fieldset>
      {channels.series.map((s) => <One key={s.key} channels={channels} series={s} shade={shade} onPick={pick} />)}
    </section>
  );
}
