/* A prediction in words: the difference first, how fine it is, its peaks, knock, what was assumed. */
import type { PredictedCurve } from './api';
import { dash, fixed, percent, rpm, shown, unitOf, words } from './format';
import { units } from './state';
import { t } from './words';

/* The most of a series, with where it stands. */
function most(c: PredictedCurve, y: (number | null)[]): { value: number; speed: number; at: number } | null {
  let at = -1;
  y.forEach((v, i) => { if (v != null && (at < 0 || v > y[at]!)) at = i; });
  return at < 0 ? null : { value: y[at]!, speed: c.speed_rpm[at]!, at };
}

export function Headline({ now, stage, turned, running }: { now: PredictedCurve; stage: 'coarse' | 'fine'; turned: boolean; running: string | null }) {
  const cell = `${fixed(shown('length', now.cell_m), units.value === 'us' ? 1 : 0)}\u202f${unitOf('length')}`;
  return (<>
    <p class="verdict-line predict-gain" role="status">{now.gain ? words(now.gain.says.text) : turned ? t('Changed: the difference comes with the fine run') : t('This is the base: change something')}</p>
    <p class="predict-stage"><span class={'tag stage-' + stage}>{stage === 'coarse' ? t('first look: cells of {cell}, some 3 % off, no band yet', { cell }) : t('refined: cells of {cell}, with its band', { cell })}</span> <span class="quiet">{t('predicted, not measured; {n} speeds in {time} s', { n: now.speed_rpm.length, time: fixed(now.wall_s, 2) })}{running ? `; ${running}` : ''}</span></p>
  </>);
}

export function Summary({ now }: { now: PredictedCurve }) {
  const power = most(now, now.power_w), torque = most(now, now.torque_n_m);
  const u = now.torque_standard_uncertainty_n_m, half = (at: number) => u ? ` ± ${percent(2 * u[at]! / now.torque_n_m[at]!, 0)}` : '';
  const held = now.knock_limited.flatMap((k, i) => k && now.mbt_deg[i] != null ? [now.mbt_deg[i]! - now.spark_deg[i]!] : []);
  const lost = now.not_converged_because.flatMap((why, i) => why ? [`${rpm(now.speed_rpm[i]!)}: ${words(why.text)}`] : []);
  const narrow = now.would_narrow ?? [];
  const doubted = now.assumed.filter((m) => m.severity !== 'note'), assumed = now.assumed.filter((m) => m.severity === 'note');
  return (
    <section class="card predict-says" aria-label="Prediction">
      <dl class="facts">
        {power && <div><dt>Highest power</dt><dd>{t('{figure} at {speed}', { figure: `${fixed(shown('power', power.value), 0)}\u2009${unitOf('power')}${half(power.at)}`, speed: rpm(power.speed) })}</dd></div>}
        {torque && <div><dt>Highest torque</dt><dd>{t('{figure} at {speed}', { figure: `${fixed(shown('torque', torque.value), 0)}\u2009${unitOf('torque')}${half(torque.at)}`, speed: rpm(torque.speed) })}</dd></div>}
        <div><dt>Compression</dt><dd>{fixed(now.compression_ratio, 2)}</dd></div>
        <div><dt>Knock</dt><dd>{held.length ? t('holds the spark back at {n} of {all} speeds, by up to {angle}°', { n: held.length, all: now.speed_rpm.length, angle: fixed(Math.max(...held), 0) }) : t('holds nothing back at this spark')}; {t('needs {needed} octane (± 3 to 4), the fuel has {octane} by the same index', { needed: fixed(Math.max(...now.octane_needed.map((o) => o ?? 0)), 0), octane: now.octane == null ? dash : fixed(now.octane, 0) })}</dd></div>
        <div><dt>Confidence</dt><dd>{now.uncertainty_from ? t('Band at 95 %: {from}.', { from: now.uncertainty_from.text }) : t('No band yet.')}</dd></div>
        {narrow.length > 0 && <div><dt>Measure next</dt><dd>{t('what narrows the band most: {what}', { what: narrow.map((n) => t('{field} (by {share})', { field: n.field.replaceAll('_', ' ').replace('.', ': '), share: percent(1 - Math.sqrt(1 - n.variance_share), 0) })).join(', ') })}</dd></div>}
      </dl>
      {doubted.length > 0 && <ul class="mind">{doubted.map((m) => <li key={m.text} class={m.severity}><b>{t(m.severity)}</b> {words(m.text)}</li>)}</ul>}
      {lost.length > 0 && <ul class="mind">{lost.map((l) => <li key={l}>{t('Did not settle at {where}', { where: l })}</li>)}</ul>}
      <p class="quiet">A predicted knock limit ranks combinations. It does not permit a spark, mixture or speed on a real engine: the makers' limits come first, and spark is proved on the dyno from the safe side.</p>
      <details><summary>{t('What was assumed ({n})', { n: assumed.length })}</summary><ul>{assumed.map((a) => <li key={a.text}>{words(a.text)}</li>)}</ul></details>
    </section>
  );
}
