/* A fact of a pull (mean, factor, a condition, a figure of the set-up) walked back to where it came from. */
import { api, type Origins } from './api';
import { useAsked } from './answered';
import { changes, units } from './state';
import { WaitingHere } from './waiting';
import { date, fixed, percent, quantity, rpm, time } from './format';

type Step = [string, string];
const airPart = (what: string, value: string, from: string): Step => [what, from === 'not known' ? 'not known: taken as none' : `${value}, from the ${from}`];

function meanSteps(o: Origins): Step[] {
  const b = o.band;
  return [
    ['Band of use', `${percent(b.low_share, 0)} to ${percent(b.high_share, 0)} of the top speed reached, ${rpm(b.top_rpm)} rpm: ${rpm(b.low_rpm)} to ${rpm(b.high_rpm)} rpm`],
    ['Points of the curve', `${b.points} within the band; the mean is taken at 51 evenly spaced places, by straight lines between points, the two ends at half weight`],
    ['Mean', `of the logarithm of corrected torque: ${quantity('torque', b.mean_torque_n_m, 2)}; the scatter of samples alone makes it uncertain by ${percent(b.relative_se, 2)} (standard)`],
    ['Each point', 'a click on the curve walks it back to its samples'],
  ];
}

function factorSteps(o: Origins): Step[] {
  const f = o.factor;
  return [
    ['Standard', `${f.standard}; reference ${f.reference}. The method says so`],
    airPart('Air pressure', quantity('pressure absolute', f.pressure_pa, 2), f.pressure_from),
    airPart('Vapour in it', quantity('pressure absolute', f.vapour_pressure_pa, 2), f.humidity_from),
    ['Dry pressure', quantity('pressure absolute', f.dry_pressure_pa, 2)],
    airPart('Air temperature', quantity('temperature', f.temperature_k, 1), f.temperature_from),
    ['Factor', `${fixed(f.factor, 5)}${f.in_range ? ', within its range' : `, OUT OF ITS RANGE: ${f.why_not ?? ''}`}. A factor after a standard is no test to that standard`],
    ...o.channels.filter((c) => ['barometer', 'humidity', 'dew_point', 'inlet_air_temperature'].includes(c.key)).map((c): Step => [c.label, columnOf(c)]),
  ];
}

function columnOf(c: Origins['channels'][number]): string {
  const touched = ([['spikes', c.spikes], ['dropouts', c.dropouts], ['flat', c.flat], ['saturated', c.saturated], ['lost', c.lost]] as const).filter(([, n]) => n > 0).map(([what, n]) => `${n} ${what}`);
  return `column "${c.heading}"${c.unit ? `, ${c.unit}` : ''}: ${c.why}${c.lag_s ? `; moved by its lag of ${fixed(c.lag_s, 2)} s` : ''}; ${fixed(c.samples, 0)} samples in the part that counts, ${touched.length ? touched.join(', ') : 'none touched by cleaning'}`;
}

function conditionSteps(o: Origins, key: string): Step[] {
  const channel = o.channels.find((c) => c.key === key);
  return channel ? [['Channel', columnOf(channel)], ['First figure', 'mean at the beginning of the pull'], ['Second figure', 'mean of its last twentieth']]
    : [['Channel', 'this recording has none']];
}

function setupSteps(o: Origins, name: string): Step[] {
  const s = o.setup.find((one) => one.name === name);
  if (!s) return [['Said', 'by nobody']];
  const own = s.since_pull === o.pull;
  return [
    ['Figure', s.shown],
    ['Said with', `pull ${s.since_pull}, ${s.recording ?? ''}, run ${date(s.since_at)} ${time(s.since_at)}${s.changed ? `: "${s.changed}"` : ''}; put into the book ${date(s.added_at)} ${time(s.added_at)} UTC`],
    ['Since then', own ? 'it is of this pull' : `the same with every pull up to this one, ${o.pull}`],
  ];
}

const cleanedSteps = (o: Origins): Step[] => o.channels.map((c): Step => [c.label, columnOf(c)]);
const methodSteps = (o: Origins): Step[] => Object.entries(o.method).map(([name, value]): Step => [name.replaceAll('_', ' '), value]);
const whenSteps = (o: Origins): Step[] => [['Put into the book', `${date(o.added_at)} ${time(o.added_at)} UTC`], ['Time of the pull', 'from the recording where it has a clock, else as given when it was added']];

function stepsOf(o: Origins, of: string): [string, Step[]] {
  if (of === 'mean') return ['mean torque', meanSteps(o)];
  if (of === 'factor') return ['factor', factorSteps(o)];
  if (of === 'method') return ['method', methodSteps(o)];
  if (of === 'cleaned') return ['what cleaning touched', cleanedSteps(o)];
  if (of === 'when') return ['when', whenSteps(o)];
  if (of.startsWith('setup.')) return [of.slice(6).replaceAll('_', ' '), setupSteps(o, of.slice(6))];
  return [of.replaceAll('_', ' '), conditionSteps(o, of)];
}

export function FactOrigin({ pull, of, onClose }: { pull: number; of: string; onClose: () => void }) {
  const system = units.value, { answer: origins, why } = useAsked(`origins-${pull}-${system}`, () => api.origins(pull, system), [changes.value]);
  if (!origins) return <section class="explain" aria-label="Where this figure comes from"><WaitingHere says="Walking the figure back…" why={why} /></section>;
  const [title, steps] = stepsOf(origins, of);
  return (
    <section class="explain" aria-label="Where this figure comes from">
      <header><h3>Pull {pull}: {title}</h3><button type="button" onClick={onClose}>Close</button></header>
      <ol class="steps">
        {steps.map(([what, text]) => <li key={what}><b>{what}</b> {text}</li>)}
        <li><b>Recording</b> {origins.recording}, SHA-256 <code title={origins.sha256}>{origins.sha256.slice(0, 16)}…</code></li>
        {origins.curve_sha256 && <li><b>Curve as stored</b>, SHA-256 <code title={origins.curve_sha256}>{origins.curve_sha256.slice(0, 16)}…</code></li>}
      </ol>
    </section>
  );
}
