/* Torque against spark or mixture: the pulls with their scatter, the fitted curve with its band, the best,
 * what to take, and why to go on or to stop. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import { api, counts, type Pull, type Sweep } from './api';
import { changes, complain } from './state';
import { fixed, gathered, percent, words } from './format';
import { Assumed, Weights, movesSay } from './behind';
import { Plot, type Line } from './plot';
import { t, tn } from './words';

type Setting = 'spark' | 'mixture';
const figure = (setting: Setting, value: number) => setting === 'spark' ? `${fixed(value, 1)}°` : fixed(value, 3);

const nameOf = (setting: Setting) => setting === 'spark' ? 'spark' : 'lambda';
const different = (pulls: Pull[], setting: Setting) => new Set(pulls.map((p) => p.setup[nameOf(setting)] ?? '')).size;

/* The last run of pulls in which nothing but this setting was moved, three different ones at least. */
function proposed(pulls: Pull[], setting: Setting): number[] {
  const sound = pulls.filter(counts);
  let run: Pull[] = [], found: Pull[] = [];
  for (const p of sound) {
    if (p.setup_changes.some((c) => c.about !== nameOf(setting))) run = [];
    run = [...run, p];
    if (different(run, setting) >= 3) found = run;
  }
  return (found.length ? found : sound.slice(-12)).map((p) => p.id);
}

function Words({ setting, sweep, ids }: { setting: Setting; sweep: Sweep; ids: number[] }) {
  const known = ids.length === sweep.pulls.setting.length; /* the same recording twice counts once */
  const at = (value: number) => figure(setting, value), figures = { best: at(sweep.best), low: at(sweep.best_interval[0]), high: at(sweep.best_interval[1]) };
  const below = sweep.best < Math.min(...sweep.pulls.setting), spark = setting === 'spark';
  const best = sweep.bracketed ? spark ? t('Best spark {best} ({low} to {high})', figures) : t('Best lambda {best} ({low} to {high})', figures)
    : below ? spark ? t('The best spark lies below what was tested; these pulls do not show how far') : t('The best lambda lies below what was tested; these pulls do not show how far')
      : spark ? t('The best spark lies above what was tested; these pulls do not show how far') : t('The best lambda lies above what was tested; these pulls do not show how far');
  const take = sweep.chosen == null ? t('nothing yet: no setting is shown to lose less than the margin')
    : (sweep.chosen_relative_loss == null ? at(sweep.chosen) : t('{setting}, {loss} below the best', { setting: at(sweep.chosen), loss: percent(sweep.chosen_relative_loss, 2) })) + (sweep.held_by_reserve ? '; ' + t('held back by the reserve from knock') : '');
  return (
    <section class={'verdict ' + (sweep.ended ? 'loss' : sweep.next != null ? 'gain' : 'same')} aria-label="Answer">
      <p class="verdict-line"><span>{best}</span></p>
      <dl class="asked">
        <div><dt>Take</dt><dd>{take}</dd></div>
        <div><dt>Next step</dt><dd>{sweep.next == null ? words(sweep.reason.text) : `${at(sweep.next)}: ${words(sweep.reason.text)}`}</dd></div>
        {sweep.narrowing && <div><dt>To know it better</dt><dd>{words(sweep.narrowing.text)}{sweep.narrowing_costs.length > 0 && <span class="quiet">{': ' + sweep.narrowing_costs.map((m) => words(m.text)).join(', ')}</span>}</dd></div>}
        <div><dt>One pull repeats to</dt><dd>{tn('{sd} ({n} degree of freedom)', '{sd} ({n} degrees of freedom)', Math.round(sweep.degrees_of_freedom), { sd: percent(sweep.relative_sd, 2) })}</dd></div>
      </dl>
      {sweep.warnings.length > 0 && <ul class="mind">{gathered(sweep.warnings.map((w) => w.text)).map((w) => <li key={w}>{words(w)}</li>)}</ul>}
      <Weights rows={sweep.pulls.setting.map((x, i) => ({ pull: known ? ids[i]! : null, name: at(x), weight: sweep.pulls.moves_best_by_per_cent[i] ?? null }))} heading={t('How each pull moves the best')} of={t('Setting')} figure={t('Moves it by')} decimals={setting === 'spark' ? 2 : 4} says={movesSay(setting)} />
      <Assumed lines={sweep.assumed} />
      <p class="quiet">Knock, or anything noted on a plug, ends a sweep whatever torque says. The limits of the engine's and the fuel's makers come first; nothing here overrides them.</p>
    </section>
  );
}

const WIDEST = 0.3; /* of the torque */

export function SweepView({ pulls, chosen }: { pulls: Pull[]; chosen: number[] }) {
  const [picked, setSetting] = useState<Setting | null>(null);
  const mine = pulls.filter((p) => chosen.includes(p.id));
  /* what the chosen pulls moved, until somebody says otherwise */
  const setting = picked ?? (different(mine, 'mixture') > Math.max(different(mine, 'spark'), 2) ? 'mixture' : 'spark');
  const [typed, setTyped] = useState<string | null>(null);
  const [sweep, setSweep] = useState<Sweep | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [kept, setKept] = useState(false);
  const usual = useMemo(() => {
    return different(mine, setting) >= 3 ? mine.map((p) => p.id) : proposed(pulls, setting);
  }, [pulls, chosen.join(), setting]);
  const ids = typed == null ? usual : typed.split(/[\s,]+/).map(Number).filter((n) => n > 0);
  useEffect(() => {
    let gone = false;
    const later = setTimeout(() => {
      setKept(false);
      api.sweep(setting, ids, false).then((s) => { if (!gone) { setSweep(s); setProblem(null); } }, (e: unknown) => { if (!gone) { setSweep(null); setProblem(e instanceof Error ? e.message : String(e)); } });
    }, typed == null ? 0 : 300);
    return () => { gone = true; clearTimeout(later); };
  }, [setting, ids.join(), changes.value]);
  /* of two or three pulls hardly anything is known: a band of thousands of percent would hide what was measured */
  const drawn = sweep != null && sweep.pulls.relative_half_width < WIDEST && Math.max(...sweep.fit.relative_loss_se) * 1.96 < WIDEST;
  /* nor is a fit drawn that leaves the pulls by more than that: its scale would lay all of them on one line */
  const fits = sweep != null && sweep.fit.relative_loss.every((loss) => Math.abs(loss) < WIDEST);
  const lines = useMemo<Line[]>(() => sweep ? [
    ...!fits ? [] : [{ label: 'fitted torque', name: t('fit'), x: sweep.fit.setting, y: sweep.fit.relative_loss.map((l) => -100 * l), ...(drawn ? { half: sweep.fit.relative_loss_se.map((s) => 196 * s) } : {}), ink: 'blue', decimals: 2 }] as Line[],
    { label: 'pulls', name: t('pulls'), dots: true, x: sweep.pulls.setting, y: sweep.pulls.relative_loss.map((l) => -100 * l), ...(drawn ? { half: sweep.pulls.setting.map(() => 100 * sweep.pulls.relative_half_width) } : {}), names: ids.map(String), ink: 'ochre', decimals: 2 },
  ] : [], [sweep]);
  const marks = useMemo(() => sweep ? [{ x: sweep.best, label: 'best' }, ...(sweep.chosen == null ? [] : [{ x: sweep.chosen, label: 'take' }])] : [], [sweep]);
  const keep = () => { api.sweep(setting, ids, true).then((s) => { setSweep(s); setKept(true); }, complain); };
  return (
    <section aria-label="Sweep">
      <div class="tools">
        <span class="switch" role="group" aria-label="What was moved">
          {(['spark', 'mixture'] as const).map((s) => <button key={s} type="button" aria-pressed={setting === s} onClick={() => { setSetting(s); setTyped(null); }}>{s}</button>)}
        </span>
        <label class="grow">Pulls <input value={typed ?? usual.join(', ')} onInput={(e) => setTyped(e.currentTarget.value)} /></label>
        {typed != null && <button type="button" onClick={() => setTyped(null)}>As proposed</button>}
      </div>
      {problem && <p class="said grave" role="status">{words(problem)}</p>}
      {sweep && (<>
        <Words setting={setting} sweep={sweep} ids={ids} />
        <Plot title={setting === 'spark' ? t('mean torque against spark, degrees before top dead centre, % from the fitted best') : t('mean torque against lambda, % from the fitted best')} lines={lines} height={320} marks={marks} shade={{ low: sweep.best_interval[0], high: sweep.best_interval[1] }}
          xLabel={setting === 'spark' ? t('degrees') : t('lambda')} xDecimals={setting === 'spark' ? 1 : 3} left="%" zero />
        {!drawn && <p class="warned">How these pulls scatter is hardly known: no band is drawn. Repeat a setting.</p>}
        <p class="quiet">Each dot is a pull, with drift removed and the bar in which 95&thinsp;% of such pulls fall. Shaded: the interval of the best.</p>
        {kept ? <p class="quiet">Kept in the book.</p> : <p><button type="button" onClick={keep}>Keep this answer in the book</button></p>}
      </>)}
    </section>
  );
}
