/* A fit: a few physical knobs turned so that the prediction meets measured pulls, and what is left over. */
import { useMemo, useState } from 'preact/hooks';
import { api, type FitAnswer, type PredictQuestion, type Tune } from './api';
import { complain, say } from './state';
import { fixed, percent, rpm, shown, unitOf, words } from './format';
import { follow } from './predict_job';
import { Plot, type Line } from './plot';
import { t, tn } from './words';

function Knobs({ tune, names }: { tune: Tune; names: { name: string; help: string }[] }) {
  return (
    <table class="list"><thead><tr><th scope="col">Knob</th><th scope="col" class="num">Factor</th><th scope="col" class="num">± 95&thinsp;%</th><th scope="col">What it turns</th></tr></thead>
      <tbody>{names.map(({ name, help }) => { const u = tune[name + '_u']; return (
        <tr key={name}><th scope="row">{name}</th><td class="num">{fixed(tune[name] ?? 1, 3)}</td><td class="num">{u == null ? t('not fitted') : fixed(2 * u, 3)}</td><td class="quiet">{help}</td></tr>); })}</tbody>
    </table>
  );
}

/* How what is left over is to be judged, in words. */
function judged(fit: FitAnswer): string {
  const left = fit.relative_error_after;
  const values = { left: percent(left), worst: percent(fit.relative_worst_after) };
  if (fit.cautions.length > 0) return t('Left over: {left}, {worst} at worst.', values);
  return t('Left over: {left}, {worst} at worst, with no pattern over speed. Predictions with this fit are no better than that.', values);
}

export function FitCard({ question, pulls, engine, knobs, tune, kept, outdated, onTune }: { question: () => Omit<PredictQuestion, 'page'>; pulls: number[]; engine: number; knobs: { name: string; help: string }[];
  tune: Tune | null; kept: Tune | null; outdated: boolean; onTune: (tune: Tune | null) => void }) {
  const [turned, setTurned] = useState(['flow', 'friction', 'heat']);
  const [fit, setFit] = useState<FitAnswer | null>(null);
  const [job, setJob] = useState(0);
  const [refused, setRefused] = useState<string | null>(null);
  const run = () => {
    setRefused(null);
    follow<FitAnswer>('/fit', { ...question(), pulls, knobs: turned }, undefined, setJob)
      .then((a) => { if (a) { setFit(a); onTune(a.tune); } }, (e: unknown) => setRefused(e instanceof Error ? e.message : String(e))).finally(() => setJob(0));
  };
  const keep = (value: Tune | null, before: Tune | null) => {
    const back = () => { void api.predictKeep(engine, before).catch(complain); };
    api.predictKeep(engine, value).then(() => say(value ? t('The fit is kept with this engine.') : t('The kept fit is removed.'), back), complain);
  };
  const residual = useMemo<Line[]>(() => fit ? [{ label: 'predicted less measured', name: t('left over'), x: fit.speed_rpm, y: fit.relative_residual.map((r) => 100 * r), ink: 'green', decimals: 1 }] : [], [fit]);
  const same = kept != null && tune != null && JSON.stringify(kept) === JSON.stringify(tune);
  return (
    <section class="card" aria-label="Fit">
      <h2>Fit to measured pulls</h2>
      <p class="quiet">{pulls.length ? tn('To pull {pulls} as observed, in its own air, with its spark and mixture.', 'To pulls {pulls} as observed, in their own air, with their spark and mixture.', pulls.length, { pulls: pulls.join(', ') }) : t('Choose pulls under "Measured underneath" first.')} {t('The knobs are factors on the model; each is held near 1 by a wide prior of 30 %.')}</p>
      <fieldset class="tools plain-set"><legend>Knobs</legend>{knobs.map(({ name, help }) => <label key={name} title={help}><input type="checkbox" checked={turned.includes(name)} onChange={(e) => setTurned(e.currentTarget.checked ? [...turned, name] : turned.filter((k) => k !== name))} /> {words(name.replaceAll('_', ' '))}</label>)}
        {job === 0 ? <button type="button" disabled={pulls.length === 0 || turned.length === 0} onClick={run}>Fit</button>
          : <><span role="status">Fitting: the engine runs again for every turn of a knob…</span><button type="button" onClick={() => { void api.predictCancel(job).catch(complain); }}>Cancel</button></>}
      </fieldset>
      {refused && <p class="problem" role="alert">{words(refused)}</p>}
      {fit && (<>
        <p class="fit-says">{t('Torque was off by {before} before the fit and is off by {after} after it (root mean square over {n} speeds).', { before: percent(fit.relative_error_before), after: percent(fit.relative_error_after), n: fit.speed_rpm.length })} {judged(fit)}</p>
        {fit.cautions.length > 0 && <ul class="mind">{fit.cautions.map((m) => <li key={m.text}>{words(m.text)}</li>)}</ul>}
        <Plot title="left over after the fit, %, predicted less measured" lines={residual} height={180} xLabel="rpm" left="%" zero sync="predict" />
        <details><summary>Measured figures that it was fitted to</summary>
          <table class="list"><thead><tr><th scope="col" class="num">rpm</th><th scope="col" class="num">{t('measured, {unit}', { unit: unitOf('torque') })}</th><th scope="col" class="num">left, %</th></tr></thead><tbody>{fit.speed_rpm.map((n, i) => <tr key={n}><td class="num">{rpm(n)}</td><td class="num">{fixed(shown('torque', fit.measured_torque_n_m[i]!), 1)}</td><td class="num">{fixed(100 * fit.relative_residual[i]!, 1)}</td></tr>)}</tbody></table></details>
      </>)}
      {outdated && !tune && <p>The fit kept with this engine was made with an earlier physics of the simulation and is not used. Fit again.</p>}
      {tune && <Knobs tune={tune} names={knobs} />}
      <p class="tools">
        {tune && <button type="button" onClick={() => onTune(null)}>Predict without it</button>}
        {!tune && (fit?.tune ?? kept) && <button type="button" onClick={() => onTune(fit?.tune ?? kept)}>Predict with it</button>}
        {tune && !same && <button type="button" onClick={() => keep(tune, kept)}>Keep with this engine</button>}
        {kept && <><span class="quiet">{same ? 'This fit is kept in the book.' : 'Another fit is kept in the book.'}</span><button type="button" class="plain" onClick={() => keep(null, kept)}>Remove the kept one</button></>}
      </p>
    </section>
  );
}
