/* A fact of a pull (mean, factor, a condition, a figure of the set-up) walked back to where it came from. */
import { api, type Origins } from './api';
import { useAsked } from './answered';
import { changes, units } from './state';
import { Digest } from './explain';
import { WaitingHere } from './waiting';
import { date, fixed, percent, quantity, rpm, time } from './format';
import { t } from './words';

type Step = [string, string];
const airPart = (what: string, value: string, from: string, known: boolean): Step => [what, known ? t('{value}, from: {from}', { value, from }) : t('not known: taken as none')];

function meanSteps(o: Origins): Step[] {
  const b = o.band;
  return [
    [t('Band of use'), t('{low_share} to {high_share} of the top speed reached, {top} rpm: {low} to {high} rpm',
      { low_share: percent(b.low_share, 0), high_share: percent(b.high_share, 0), top: rpm(b.top_rpm), low: rpm(b.low_rpm), high: rpm(b.high_rpm) })],
    [t('Points of the curve'), t('{n} within the band; the mean is taken at 51 evenly spaced speeds, by straight lines between points, the two ends at half weight', { n: b.points })],
    [t('Mean'), t('of the logarithm of corrected torque: {torque}; scatter of the samples alone makes it uncertain by {share} (standard)', { torque: quantity('torque', b.mean_torque_n_m, 2), share: percent(b.relative_se, 2) })],
    [t('Each point'), t('click the curve to walk a point back to its samples')],
  ];
}

function factorSteps(o: Origins): Step[] {
  const f = o.factor;
  return [
    [t('Standard'), t('{standard}; reference {reference}. Set by the method', { standard: f.standard, reference: f.reference })],
    airPart(t('Air pressure'), quantity('pressure absolute', f.pressure_pa, 2), f.pressure_from, f.pressure_pa != null),
    airPart(t('Vapour pressure'), quantity('pressure absolute', f.vapour_pressure_pa, 2), f.humidity_from, f.vapour_pressure_pa != null),
    [t('Dry pressure'), quantity('pressure absolute', f.dry_pressure_pa, 2)],
    airPart(t('Air temperature'), quantity('temperature', f.temperature_k, 1), f.temperature_from, f.temperature_k != null),
    [t('Factor'), (f.in_range ? t('{factor}, within its range.', { factor: fixed(f.factor, 5) }) : t('{factor}, OUT OF ITS RANGE: {why}.', { factor: fixed(f.factor, 5), why: f.why_not?.text ?? '' }))
      + ' ' + t('A factor to a standard does not make the test one to that standard')],
    ...o.channels.filter((c) => ['barometer', 'humidity', 'dew_point', 'inlet_air_temperature'].includes(c.key)).map((c): Step => [c.label, columnOf(c)]),
  ];
}

function columnOf(c: Origins['channels'][number]): string {
  const touched = ([[t('spikes'), c.spikes], [t('dropouts'), c.dropouts], [t('flat stretches'), c.flat], [t('saturated'), c.saturated], [t('lost'), c.lost]] as const).filter(([, n]) => n > 0).map(([what, n]) => `${n} ${what}`);
  return [`${t('column "{heading}"', { heading: c.heading })}${c.unit ? `, ${c.unit}` : ''}: ${c.why.text}`,
    ...(c.lag_s ? [t('moved by its lag of {lag} s', { lag: fixed(c.lag_s, 2) })] : []),
    t('{samples} samples in the part that counts', { samples: fixed(c.samples, 0) }),
    touched.length ? t('touched by cleaning: {what}', { what: touched.join(', ') }) : t('none touched by cleaning')].join('; ');
}

function conditionSteps(o: Origins, key: string): Step[] {
  const channel = o.channels.find((c) => c.key === key);
  return channel ? [[t('Channel'), columnOf(channel)], [t('First figure'), t('mean at the beginning of the pull')], [t('Second figure'), t('mean of its last twentieth')]]
    : [[t('Channel'), t('not in this recording')]];
}

function setupSteps(o: Origins, name: string): Step[] {
  const s = o.setup.find((one) => one.name === name);
  if (!s) return [[t('Stated'), t('by nobody')]];
  const own = s.since_pull === o.pull;
  return [
    [t('Figure'), s.shown],
    [t('Stated with'), t('pull {pull}, {recording}, run {run}; put into the book {added} UTC', { pull: s.since_pull, recording: s.recording ?? '', run: `${date(s.since_at)} ${time(s.since_at)}${s.changed ? `: "${s.changed}"` : ''}`, added: `${date(s.added_at)} ${time(s.added_at)}` })],
    [t('Since then'), own ? t('stated with this pull') : t('the same with every pull up to this one, {pull}', { pull: o.pull })],
  ];
}

const cleanedSteps = (o: Origins): Step[] => o.channels.map((c): Step => [c.label, columnOf(c)]);
const methodSteps = (o: Origins): Step[] => Object.entries(o.method).map(([name, value]): Step => [name.replaceAll('_', ' '), value]);
const whenSteps = (o: Origins): Step[] => [[t('Put into the book'), `${date(o.added_at)} ${time(o.added_at)} UTC`], [t('Time of the pull'), t('from the recording where it has a clock, otherwise as given when it was added')]];

function stepsOf(o: Origins, of: string): [string, Step[]] {
  if (of === 'mean') return [t('mean torque'), meanSteps(o)];
  if (of === 'factor') return [t('factor'), factorSteps(o)];
  if (of === 'method') return [t('method'), methodSteps(o)];
  if (of === 'cleaned') return [t('what cleaning touched'), cleanedSteps(o)];
  if (of === 'when') return [t('when'), whenSteps(o)];
  if (of.startsWith('setup.')) return [of.slice(6).replaceAll('_', ' '), setupSteps(o, of.slice(6))];
  return [of.replaceAll('_', ' '), conditionSteps(o, of)];
}

export function FactOrigin({ pull, of, onClose }: { pull: number; of: string; onClose: () => void }) {
  const system = units.value, { answer: origins, why } = useAsked(`origins-${pull}-${system}`, () => api.origins(pull, system), [changes.value]);
  if (!origins) return <section class="explain" aria-label="Where this figure comes from"><WaitingHere says="Walking the figure back…" why={why} /></section>;
  const [title, steps] = stepsOf(origins, of);
  return (
    <section class="explain" aria-label="Where this figure comes from">
      <header><h3>{t('Pull {pull}: {what}', { pull, what: title })}</h3><button type="button" onClick={onClose}>Close</button></header>
      <ol class="steps">
        {steps.map(([what, text]) => <li key={what}><b>{what}</b> {text}</li>)}
        <li><b>Recording</b> {origins.recording}<Digest sha256={origins.sha256} /></li>
        {origins.curve_sha256 && <li><b>Curve as stored</b><Digest sha256={origins.curve_sha256} /></li>}
      </ol>
    </section>
  );
}
