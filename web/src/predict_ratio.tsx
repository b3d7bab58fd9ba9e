/* Compression both ways: which ratio this fuel stands and this cam wants, which closing this ratio wants, and what the difference is worth. */
import { useMemo, useState } from 'preact/hooks';
import { api, type CompressionAnswer, type PredictQuestion } from './api';
import { fixed, percent, rpm, shown, unitOf, words } from './format';
import { follow } from './predict_job';
import { Plot, type Line } from './plot';
import { complain, units } from './state';
import { t } from './words';

const STEP_RPM = 500;
type Ratio = CompressionAnswer['compression'];

/* A difference of torque with its expanded uncertainty, in the page's unit. */
function gain(value: number | null, u: number | null): string {
  if (value == null || u == null) return '–';
  const scale = Math.abs(shown('torque', 1) - shown('torque', 0));
  return `${value >= 0 ? '+' : ''}${fixed(value * scale, 1)} ± ${fixed(2 * u * scale, 1)}\u202f${unitOf('torque')}`;
}

function Says({ c }: { c: Ratio }) {
  const one = (v: number | null | undefined) => v == null ? '–' : fixed(v, 1), [easy, edge] = c.fuel_stands, [low, high] = c.cam_wants, [early, late] = c.closing_wanted_abdc_deg;
  return (
    <dl class="facts">
      <div><dt>Now</dt><dd>{c.effective_ratio == null ? t('{ratio}; its effective ratio is not known: give both durations of the inlet and its place', { ratio: one(c.ratio) }) : t('{ratio}, effective {effective}', { ratio: one(c.ratio), effective: one(c.effective_ratio) })}</dd></div>
      <div><dt>This fuel stands</dt><dd>{easy == null || edge == null ? t('not known') : t('{easy} easily, {edge} at the edge: a ranking, proved from the safe side', { easy: one(easy), edge: one(edge) })}</dd></div>
      <div><dt>This cam wants</dt><dd>{low == null || high == null ? t('not known') : t('{low} to {high} on petrol (common practice)', { low: one(low), high: one(high) })}</dd></div>
      {early != null && late != null && <div><dt>This ratio wants</dt><dd>{t('an inlet that closes {early} to {late}° after bottom dead centre', { early: fixed(early, 0), late: fixed(late, 0) })}</dd></div>}
      <div><dt>{t('{other} instead of {ratio}', { other: one(c.compared_with), ratio: one(c.ratio) })}</dt><dd>{t('{below} up to {speed}, {above} above', { below: gain(c.gain_below_n_m, c.gain_below_standard_uncertainty_n_m), above: gain(c.gain_above_n_m, c.gain_above_standard_uncertainty_n_m), speed: rpm(c.middle_speed_rpm) })}; {t('octane needed {other}, now {now}', { other: c.compared_octane_needed == null ? '–' : fixed(c.compared_octane_needed, 0), now: c.octane_needed == null ? '–' : fixed(c.octane_needed, 0) })}</dd></div>
      {c.brought_back_by_spark != null && <div><dt>By spark</dt><dd>{t('a spark of its own brings back {share} of what {ratio} would lose at the spark of {other}', { share: percent(c.brought_back_by_spark, 0), ratio: one(c.ratio), other: one(c.compared_with) })}</dd></div>}
    </dl>
  );
}

function linesOf(a: CompressionAnswer): Line[] {
  const c = a.compression, show = (values: (number | null)[]) => values.map((v) => v == null ? null : shown('torque', v));
  return [
    { label: t('at {ratio}', { ratio: fixed(c.ratio, 1) }), x: a.speed_rpm, y: show(c.torque_n_m), ink: 'violet', dash: [9, 4], decimals: 1 },
    { label: t('at {ratio}', { ratio: fixed(c.compared_with, 1) }), x: a.speed_rpm, y: show(c.compared_torque_n_m), ink: 'ochre', decimals: 1 },
    { label: t('{ratio}, spark of {other}', { ratio: fixed(c.ratio, 1), other: fixed(c.compared_with, 1) }), x: a.speed_rpm, y: show(c.torque_at_compared_spark_n_m), ink: 'quiet', dash: [2, 4], decimals: 1 },
  ];
}

export function RatioCard({ question }: { question: () => Omit<PredictQuestion, 'page'> }) {
  const [answer, setAnswer] = useState<CompressionAnswer | null>(null), [share, setShare] = useState(0), [job, setJob] = useState(0), [refused, setRefused] = useState<string | null>(null);
  const lines = useMemo(() => answer ? linesOf(answer) : [], [answer, units.value]);
  const run = () => {
    const { spark: _spark, ...asked } = question(); /* each ratio is run at its own best */
    setRefused(null); setShare(0);
    follow<CompressionAnswer>('/compression', { ...asked, speed_step: STEP_RPM }, setShare, setJob)
      .then((a) => { if (a) setAnswer(a); }, (e: unknown) => setRefused(e instanceof Error ? e.message : String(e))).finally(() => setJob(0));
  };
  return (
    <section class="card" aria-label="Which ratio">
      <h2>Which compression ratio</h2>
      <p class="tools">{job === 0 ? <button type="button" onClick={run}>{answer ? t('Ask again') : t('What do fuel and cam want?')}</button>
        : <><span role="status">{t('Running: {share}', { share: percent(share, 0) })}</span><button type="button" onClick={() => { void api.predictCancel(job).catch(complain); }}>Cancel</button></>}</p>
      {refused && <p class="problem" role="alert">{words(refused)}</p>}
      {answer && <><Says c={answer.compression} /><Plot title={t('predicted: {what}', { what: `${t('torque')}, ${unitOf('torque')}` })} lines={lines} height={200} xLabel="rpm" left={unitOf('torque')} sync="predict" gutter={96} /></>}
    </section>
  );
}
