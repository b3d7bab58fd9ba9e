/* The test day: where it stands, the next sensible step and why. */
import { api, type Day } from './api';
import { useAnswered, useAsked, useQuestion } from './answered';
import { Waiting } from './waiting';
import { isKept } from './kept';
import { changes, units } from './state';
import { DynoHealth, NotesCard } from './notes';
import { ChooseFiles } from './drop';
import { OpenTrips } from './trips';
import { Behind } from './behind';
import { Later } from './later';
import { date, dash, fixed, quantity, rpm, time, words, tripWords } from './format';
import { t } from './words';

const stateWords = { done: 'done', due: 'due', later: 'later', blocked: 'blocked' } as const;
const stateMarks = { done: '✓', due: '→', later: '·', blocked: '!' } as const;

function Stages({ day }: { day: Day }) {
  return (
    <ol class="stages">
      {day.stages.map((stage) => (
        <li key={stage.name} class={stage.state}>
          <span class="stage-mark" aria-hidden="true">{stateMarks[stage.state]}</span>
          <span><b>{stage.name}</b> <span class="state">{stateWords[stage.state]}</span><br /><span class="quiet">{words(stage.says.text)}</span></span>
        </li>
      ))}
    </ol>
  );
}

function Air({ air }: { air: NonNullable<Day['air']> }) {
  return (
    <section class="card">
      <h2>Air and factor</h2>
      <p class="big figure">{fixed(air.factor, 4)}</p>
      <p class="quiet">{air.standard} ({air.reference}){air.in_range ? '' : ': ' + t('OUT OF ITS RANGE')}</p>
      <dl class="facts">
        <div><dt>Station pressure</dt><dd>{quantity('pressure absolute', air.pressure_pa, units.value === 'us' ? 2 : 1)} <span class="quiet">{t(air.pressure_from ?? '')}</span></dd></div>
        <div><dt>Inlet air</dt><dd>{quantity('temperature', air.temperature_k, 1)} <span class="quiet">{t(air.temperature_from ?? '')}</span></dd></div>
        <div><dt>Vapour pressure</dt><dd>{quantity('pressure absolute', air.vapour_pressure_pa, units.value === 'us' ? 3 : 1)} <span class="quiet">{t(air.humidity_from ?? '')}</span></dd></div>
        <div><dt>Oil at the end</dt><dd>{quantity('temperature', air.oil_end_k, 0)}</dd></div>
        <div><dt>Coolant at the end</dt><dd>{quantity('temperature', air.coolant_end_k, 0)}</dd></div>
      </dl>
    </section>
  );
}

function StepChecks({ day }: { day: Day }) {
  const step = day.step_up;
  if (!step) return null;
  return (
    <section class="card">
      <h2>{t('Going on from {speed} rpm', { speed: rpm(step.limit_rpm, 50) })}</h2>
      <p><b>{words(step.says.text)}</b></p>
      <ul class="checks">
        {step.checks.map((check) => (
          <li key={check.what + check.found.text} class={check.answer.replaceAll(' ', '-')}><b>{check.what}</b> {words(check.found.text)}{check.answer === 'no objection' ? '' : ` (${t(check.answer)})`}</li>
        ))}
      </ul>
      {step.ceiling_rpm != null && <p class="quiet">{t('Ceiling {speed} rpm: {from}.', { speed: rpm(step.ceiling_rpm), from: step.ceiling_from?.text ?? '' })} {t("This is not an order: the limits of the engine's and the dyno's makers come first. Look underneath before going on.")}</p>}
    </section>
  );
}

/* The last answer of each question of this day, as it was kept. */
function Answers({ day }: { day: string }) {
  const system = units.value, version = changes.value;
  const { answer } = useAsked(`answers-${day}-${system}`, () => api.answers(day, system), [version, day]);
  const shown = answer?.answers.filter((one) => one.question !== 'step-up') ?? []; /* the next limit has a card of its own */
  if (shown.length === 0) return null;
  return <section class="card asked-today"><h2>Questions of the day</h2>{shown.map((one) => <Behind key={one.id} answer={one} />)}</section>;
}

const LAST_PULLS = 8;
export function DayScreen() {
  const version = changes.value, system = units.value;
  const { answer: day, why } = useQuestion(`day-${system}`, () => api.day(system), [version]);
  const pulls = useAnswered(`newest-${system}`, () => api.newest(system, LAST_PULLS).then((r) => r.pulls), [version]) ?? [];
  if (!day) return <Waiting says="Reading the day…" why={why} to="#/shop" toWords={t('To the shop')} />;
  const recent = pulls.filter((p) => p.day === day.day).slice(-LAST_PULLS).reverse();
  const e = day.engine;
  return (
    <div class="day">
      <header class="headline">
        <div>
          <h1 translate={false}>{e?.name ?? t('Test day')}</h1>
          <p class="quiet" translate={false}>{[e?.serial, e?.owner, e?.displacement_m3 != null ? quantity('volume', e.displacement_m3, units.value === 'us' ? 1 : 0) : null, day.day ? date(day.day) : null].filter(Boolean).join(' · ') || t('no pulls yet')}</p>
        </div>
        <div class="tools"><ChooseFiles label="Add files" />{day.last_pull > 0 && !isKept(`day-${system}`) && <a class="button" href={api.reportAddress({ units: system })} download>Report (PDF)</a>}</div>
      </header>
      <section class="next" aria-label="Next sensible step">
        <p class="label">Next sensible step</p>
        <p class="next-step">{day.next.text}</p>
        <p>{words(day.why.text)}</p>
      </section>
      <OpenTrips />
      <div class="columns">
        <section class="card"><h2>Where the day stands</h2><Stages day={day} /></section>
        {day.air && <Air air={day.air} />}
        {day.cautions.length > 0 && <section class="card"><h2>Cautions</h2><ul class="mind">{day.cautions.map((m) => <li key={m.text}>{words(m.text)}</li>)}</ul></section>}
        {day.setup && Object.keys(day.setup).length > 0 && (
          <section class="card">
            <h2>Set-up now</h2>
            <dl class="facts">{Object.entries(day.setup).map(([name, value]) => <div key={name}><dt>{name.replaceAll('_', ' ')}</dt><dd translate={false}>{value}</dd></div>)}</dl>
            {e?.equipment && <p class="quiet" translate={false}>{t('Equipment: {what}', { what: e.equipment })}</p>}
          </section>
        )}
        <StepChecks day={day} />
        {day.day && <Answers day={day.day} />}
        <NotesCard day={day.day} />
        <DynoHealth />
        {day.day && <Later part={(m) => m.Photos} given={{ of: 'day:' + day.day, heading: t('Photos and files of the day') }} />}
      </div>
        {recent.length > 0 && (
          <section class="card">
            <h2>Last pulls</h2>
            <div tabIndex={0} class="scroll"><table class="list">
              <thead><tr><th scope="col" class="num">Pull</th><th scope="col">Time</th><th scope="col" class="num">To, rpm</th><th scope="col" class="num">Mean torque</th><th scope="col">Changed</th></tr></thead>
              <tbody>{recent.map((p) => (
                <tr key={p.id} class={p.discarded ? 'discarded' : ''}>
                  <td class="num"><a href={`#/pulls?a=${p.id}`}>{p.id}</a></td><td>{time(p.at)}</td><td class="num">{rpm(p.top_speed_rpm)}</td>
                  <td class="num">{p.purpose === 'pull' ? quantity('torque', p.band_mean_torque_n_m, 1) : p.purpose}</td>
                  <td translate={false}>{p.tripped && <span class="tag tripped">{tripWords(p.tripped)}</span>}{p.discarded ? t('discarded: {why}', { why: p.discarded }) : p.changed ?? (p.setup_changes.map((c) => c.text).join('; ') || dash)}</td>
                </tr>))}</tbody>
            </table></div>
          </section>
        )}
    </div>
  );
}
