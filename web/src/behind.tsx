/* What lies behind an answer: what each pull weighs, what conditions did, what was assumed, what to run next and what it costs. */
import { dash, fixed, words } from './format';
import { t } from './words';
import type { AnswerBehind, Message } from './api';

export interface Weighed { pull: number | null; name: string; weight: number | null }

/** Bars to either side of the middle, the longest filling its half; a weight that is not known has none. */
export function Weights({ rows, heading, of, figure, decimals, says }: { rows: Weighed[]; heading: string; of: string; figure: string; decimals: number; says: string }) {
  const most = Math.max(...rows.map((r) => Math.abs(r.weight ?? 0)), 1e-12);
  if (!rows.some((r) => r.weight != null)) return null;
  return (
    <details class="weights">
      <summary>{heading}</summary>
      <div tabIndex={0} class="scroll"><table class="list">
        <thead><tr><th scope="col" class="num">{t('Pull')}</th><th scope="col">{of}</th><th scope="col" class="num">{figure}</th><td class="bar-cell" /></tr></thead>
        <tbody>{rows.map((r, i) => {
          const share = 50 * Math.abs(r.weight ?? 0) / most;
          return (
            <tr key={i}><td class="num">{r.pull ?? dash}</td><td>{r.name}</td><td class="num">{r.weight == null ? dash : (r.weight > 0 ? '+' : '') + fixed(r.weight, decimals)}</td>
              <td class="bar-cell"><svg viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true"><rect x={(r.weight ?? 0) < 0 ? 50 - share : 50} y="0" width={share} height="8" /></svg></td></tr>);
        })}</tbody>
      </table></div>
      <p class="quiet">{says}</p>
    </details>
  );
}

export const weightsSay = () => t('Those of A add up to -1, those of B to +1: the difference is their sum, so a pull with a small weight can be wrong and change little.');
export const movesSay = (setting: 'spark' | 'mixture') => setting === 'spark' ? t('Degrees by which the best moves when this pull alone reads 1 % more.') : t('Lambda by which the best moves when this pull alone reads 1 % more.');

function Lines({ heading, lines }: { heading: string; lines: Message[] }) {
  return lines.length === 0 ? null : <details><summary>{heading}</summary><ul>{lines.map((m) => <li key={m.text}>{words(m.text)}</li>)}</ul></details>;
}

export const Assumed = ({ lines }: { lines: Message[] }) => <Lines heading={t('What was assumed')} lines={lines} />;

/** Time, fuel and time near the limit of what is proposed. */
export function Next({ says, costs }: { says: Message; costs: Message[] }) {
  return <div class="next-pulls"><p><b>{words(says.text)}</b></p>{costs.length > 0 && <ul class="quiet">{costs.map((m) => <li key={m.text}>{words(m.text)}</li>)}</ul>}</div>;
}

const asked: Record<AnswerBehind['question'], () => string> = { compare: () => t('Was it better?'), 'spark sweep': () => t('Best spark'), 'mixture sweep': () => t('Best mixture'), 'step-up': () => t('The next limit') };

function addressOf(answer: AnswerBehind): string {
  const a = answer.a.join(','), view = answer.question === 'step-up' ? '&view=limit' : answer.question === 'compare' ? '' : '&view=sweep';
  return `#/pulls?a=${a}${answer.b.length ? `&b=${answer.b.join(',')}` : ''}${view}`;
}

/** One kept answer of the day. */
export function Behind({ answer }: { answer: AnswerBehind }) {
  const sweep = answer.question === 'spark sweep' || answer.question === 'mixture sweep', setting = answer.question === 'mixture sweep' ? 'mixture' : 'spark';
  const rows = answer.weights.map((w) => ({ pull: w.pull, weight: w.weight, name: sweep ? (w.setting == null ? dash : setting === 'spark' ? `${fixed(w.setting, 1)}°` : fixed(w.setting, 3)) : (w.side ?? '').toUpperCase() }));
  return (
    <section class="behind">
      <h3><a href={addressOf(answer)}>{asked[answer.question]()}</a></h3>
      <p>{words(answer.says.text)}</p>
      {answer.on_an_earlier_reading && <p class="said grave">{t('A pull of it was amended since: ask again.')}</p>}
      {answer.next && <Next says={answer.next} costs={answer.next_costs} />}
      <Weights rows={rows} heading={sweep ? t('How each pull moves the best') : t('What each pull weighs')} of={sweep ? t('Setting') : t('Side')} figure={sweep ? t('Moves it by') : t('Weight')} decimals={sweep ? (setting === 'spark' ? 2 : 4) : 2}
        says={sweep ? movesSay(setting) : weightsSay()} />
      <Lines heading={t('What conditions did, and which pulls count')} lines={answer.notes} />
      {answer.whole_day && <details><summary>{words(answer.whole_day.text)}</summary><ul>{answer.whole_day_notes.map((m) => <li key={m.text}>{words(m.text)}</li>)}</ul></details>}
      <Assumed lines={answer.assumed} />
    </section>
  );
}
