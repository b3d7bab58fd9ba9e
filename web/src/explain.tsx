/* One figure walked back to the samples and weights that it came from. */
import { api } from './api';
import { useAsked } from './answered';
import { changes } from './state';
import { WaitingHere } from './waiting';
import { fixed, quantity, rpm, withUncertainty } from './format';
import { t } from './words';

export const Digest = ({ sha256 }: { sha256: string }) => <span translate={false}>, SHA-256 <code title={sha256}>{sha256.slice(0, 16)}…</code></span>;

export function Explain({ pull, speed, onClose }: { pull: number; speed: number; onClose: () => void }) {
  const { answer: origin, why } = useAsked(`explain-${pull}-${speed}`, () => api.explain(pull, speed), [changes.value]);
  if (!origin) return <section class="explain" aria-label="Where this figure comes from"><WaitingHere says="Walking the figure back…" why={why} /></section>;
  const o = origin, torque = (value: number | null) => quantity('torque', value, 2);
  const air = { pressure: quantity('pressure absolute', o.pressure_pa, 1), pressure_from: o.pressure_from, temperature: quantity('temperature', o.temperature_k, 1), temperature_from: o.temperature_from,
    vapour: quantity('pressure absolute', o.vapour_pressure_pa, 1), humidity_from: o.humidity_from };
  const observed = o.measured_torque_n_m + o.inertia_torque_n_m + (o.engine_inertia_added ? o.engine_inertia_torque_n_m : 0);
  return (
    <section class="explain" aria-label="Where this figure comes from">
      <header>
        <h3>{t('Pull {pull} at {speed}: {torque}', { pull: o.pull, speed: `${rpm(o.speed_rpm)}\u2009rpm`, torque: withUncertainty('torque', o.torque_n_m, o.expanded_n_m) })}</h3>
        <button type="button" onClick={onClose}>Close</button>
      </header>
      <ol class="steps">
        <li><b>Recording</b> {o.recording}<Digest sha256={o.sha256} /></li>
        <li><b>Samples</b> {t('{samples} that count, {first} to {last} s, {low} to {high} rpm; {touched} more were touched by cleaning and do not count',
          { samples: o.samples, first: fixed(o.first_s, 2), last: fixed(o.last_s, 2), low: rpm(o.low_rpm, 1), high: rpm(o.high_rpm, 1), touched: o.samples_touched })}</li>
        <li><b>Torque as measured</b> {t('(local regression over ±{width} rpm)', { width: rpm(o.half_width_rpm) })} <span class="figure">{torque(o.measured_torque_n_m)}</span></li>
        <li><b>Inertia of rotor and coupling</b> {t('(at {rate} rpm/s, added back)', { rate: fixed(o.acceleration_rpm_s, 0) })} <span class="figure">{torque(o.inertia_torque_n_m)}</span></li>
        <li><b>The engine's own inertia</b> {o.engine_inertia_added ? t('(added back)') : t('(not added, by the method)')} <span class="figure">{torque(o.engine_inertia_torque_n_m)}</span></li>
        <li><b>Observed torque</b> <span class="figure">{torque(observed)}</span></li>
        <li><b>{o.standard}</b> ({o.reference}){o.in_range ? '' : ' ' + t('OUT OF ITS RANGE')} <span class="figure">× {fixed(o.factor, 5)}</span>
          <br /><span class="quiet">{t('{pressure} ({pressure_from}), {temperature} ({temperature_from}), vapour {vapour} ({humidity_from})', air)}</span></li>
        <li><b>Corrected torque</b> <span class="figure">{torque(o.torque_n_m)}</span></li>
        {o.curve_sha256 && <li><b>Curve as stored</b><Digest sha256={o.curve_sha256} /></li>}
      </ol>
      <table>
        <caption>Uncertainty, standard</caption>
        <tbody>
          {o.uncertainty.map((row) => (
            <tr key={row.from}><th scope="row">{row.from}</th><td class="figure">{torque(row.standard_n_m)}</td><td class="quiet">{row.cancels_in_comparison ? 'cancels in a comparison' : ''}</td></tr>
          ))}
          <tr class="total"><th scope="row">Expanded, 95&thinsp;%, absolute</th><td class="figure">± {quantity('torque', o.expanded_n_m, 1)}</td><td /></tr>
          <tr class="total"><th scope="row">Expanded, in a comparison</th><td class="figure">± {quantity('torque', o.expanded_comparative_n_m, 1)}</td><td /></tr>
        </tbody>
      </table>
    </section>
  );
}
