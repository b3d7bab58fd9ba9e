/* One figure walked back to the samples and weights that it came from. */
import { api } from './api';
import { useAsked } from './answered';
import { changes } from './state';
import { WaitingHere } from './waiting';
import { fixed, quantity, rpm, withUncertainty } from './format';

export function Explain({ pull, speed, onClose }: { pull: number; speed: number; onClose: () => void }) {
  const { answer: origin, why } = useAsked(`explain-${pull}-${speed}`, () => api.explain(pull, speed), [changes.value]);
  if (!origin) return <section class="explain" aria-label="Where this figure comes from"><WaitingHere says="Walking the figure back…" why={why} /></section>;
  const o = origin, t = (value: number | null) => quantity('torque', value, 2);
  const observed = o.measured_torque_n_m + o.inertia_torque_n_m + (o.engine_inertia_added ? o.engine_inertia_torque_n_m : 0);
  return (
    <section class="explain" aria-label="Where this figure comes from">
      <header>
        <h3>Pull {o.pull} at {rpm(o.speed_rpm)}&thinsp;rpm: {withUncertainty('torque', o.torque_n_m, o.expanded_n_m)}</h3>
        <button type="button" onClick={onClose}>Close</button>
      </header>
      <ol class="steps">
        <li><b>Recording</b> {o.recording}, SHA-256 <code title={o.sha256}>{o.sha256.slice(0, 16)}…</code></li>
        <li><b>Samples</b> {o.samples} with weight, {fixed(o.first_s, 2)} to {fixed(o.last_s, 2)}&thinsp;s, {rpm(o.low_rpm, 1)} to {rpm(o.high_rpm, 1)}&thinsp;rpm; {o.samples_touched} more there were touched by cleaning and have no weight</li>
        <li><b>Torque as measured</b>, local regression over ±{rpm(o.half_width_rpm)}&thinsp;rpm <span class="figure">{t(o.measured_torque_n_m)}</span></li>
        <li><b>Rotor and coupling</b> take, at {fixed(o.acceleration_rpm_s, 0)}&thinsp;rpm/s: added back <span class="figure">{t(o.inertia_torque_n_m)}</span></li>
        <li><b>The engine's own inertia</b> takes: {o.engine_inertia_added ? 'added back' : 'not added, by the method'} <span class="figure">{t(o.engine_inertia_torque_n_m)}</span></li>
        <li><b>Observed torque</b> <span class="figure">{t(observed)}</span></li>
        <li><b>{o.standard}</b> ({o.reference}){o.in_range ? '' : ', OUT OF ITS RANGE'} <span class="figure">× {fixed(o.factor, 5)}</span>
          <br /><span class="quiet">{quantity('pressure absolute', o.pressure_pa, 1)} ({o.pressure_from}), {quantity('temperature', o.temperature_k, 1)} ({o.temperature_from}), vapour {quantity('pressure absolute', o.vapour_pressure_pa, 1)} ({o.humidity_from})</span></li>
        <li><b>Corrected torque</b> <span class="figure">{t(o.torque_n_m)}</span></li>
        {o.curve_sha256 && <li><b>Curve as stored</b>, SHA-256 <code title={o.curve_sha256}>{o.curve_sha256.slice(0, 16)}…</code></li>}
      </ol>
      <table>
        <caption>Uncertainty, standard</caption>
        <tbody>
          {o.uncertainty.map((row) => (
            <tr key={row.from}><th scope="row">{row.from}</th><td class="figure">{t(row.standard_n_m)}</td><td class="quiet">{row.cancels_in_comparison ? 'cancels in a comparison' : ''}</td></tr>
          ))}
          <tr class="total"><th scope="row">Expanded, 95&thinsp;%, absolute</th><td class="figure">± {quantity('torque', o.expanded_n_m, 1)}</td><td /></tr>
          <tr class="total"><th scope="row">Expanded, in a comparison</th><td class="figure">± {quantity('torque', o.expanded_comparative_n_m, 1)}</td><td /></tr>
        </tbody>
      </table>
    </section>
  );
}
