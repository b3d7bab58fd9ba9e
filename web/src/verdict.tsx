/* An answer in words: what was asked, in the order in which it has to be asked. */
import type { Comparison } from './api';
import { fixed, gathered, percent, words } from './format';

const marks: Record<Comparison['verdict'], string> = {
  gain: '▲', loss: '▼', same: '=', undecided: '?', 'not comparable': '≠',
};

export function Verdict({ answer, kept, onKeep }: { answer: Comparison; kept: boolean; onKeep?: () => void }) {
  const says = words(answer.says);
  const rows: [string, string][] = [
    ['Safe?', answer.safe], ['Valid?', answer.valid], ['Better?', answer.better], ['Worth it?', answer.worth_it],
  ];
  return (
    <section class={'verdict ' + (answer.unsafe ? 'loss' : answer.verdict.replace(' ', '-'))} aria-label="Answer">
      <p class="verdict-line"><span class="verdict-mark" aria-hidden="true">{answer.unsafe ? '!' : marks[answer.verdict]}</span><span>{says}</span></p>
      <dl class="asked">
        {rows.map(([question, text]) => <div key={question}><dt>{question}</dt><dd>{words(text)}</dd></div>)}
      </dl>
      <p class="quiet">
        A {fixed(answer.mean_a_n_m, 1)}&thinsp;N·m ({answer.pulls_a}), B {fixed(answer.mean_b_n_m, 1)}&thinsp;N·m ({answer.pulls_b}): mean of log torque,{' '}
        {percent(answer.confidence, answer.confidence === 0.95 ? 0 : 1)} interval.{' '}
        {answer.degrees_of_freedom ? <>One pull repeats to {percent(answer.relative_sd, 2)} here ({answer.level}, {fixed(answer.degrees_of_freedom, 0)} degrees of freedom). </> : null}
        {answer.smallest_margin ? <>Smallest margin this can show: {percent(answer.smallest_margin)}.</> : null}
      </p>
      {answer.warnings.length > 0 && <ul class="mind">{gathered(answer.warnings).map((w) => <li key={w}>{words(w)}</li>)}</ul>}
      {onKeep && (kept ? <p class="quiet">Kept in the book; it counts as a look at this pair.</p>
        : <p><button type="button" onClick={onKeep}>Keep this answer in the book</button> <span class="quiet">A kept answer counts as a look: the next one is asked more strictly.</span></p>)}
    </section>
  );
}
