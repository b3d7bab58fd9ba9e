/* An answer in words: what was asked, in the order in which it has to be asked. */
import { useState } from 'preact/hooks';
import type { Comparison } from './api';
import { Next, Weights, weightsSay } from './behind';
import { betweenPulls, gathered, percent, quantity, words } from './format';
import { inWords, t, tn } from './words';

const marks: Record<Comparison['verdict'], string> = {
  gain: '▲', loss: '▼', same: '=', undecided: '?', 'not comparable': '≠',
};

/** One line, which opens: what was asked, why, and the statistics. What is not safe says why in the line itself: the curves stay in sight. */
export function FoldedVerdict(props: { answer: Comparison; kept: boolean; onKeep?: () => void; onDespite?: (facts: string) => void }) {
  const { answer } = props, [open, setOpen] = useState(false);
  const cautions = gathered(answer.warnings.map((w) => w.text)).length;
  return (
    <details class={'verdict folded ' + (answer.unsafe ? 'loss' : answer.verdict.replace(' ', '-'))} open={open} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary class="verdict-line"><span class="verdict-mark" aria-hidden="true">{answer.unsafe ? '!' : marks[answer.verdict]}</span><span>{words(answer.says.text)}{answer.unsafe && !open && <span class="unsafe-why">{words(answer.safe.text)}</span>}</span>{cautions > 0 && <span class="tag cautions">{tn('{n} caution', '{n} cautions', cautions)}</span>}<span class="why">{t('Why?')}</span></summary>
      {open && <Verdict {...props} bare />}
    </details>
  );
}

export function Verdict({ answer, kept, onKeep, onDespite, bare }: { answer: Comparison; kept: boolean; onKeep?: () => void; onDespite?: (facts: string) => void; bare?: boolean }) {
  const says = words(answer.says.text);
  const rows: [string, string][] = [
    [t('Safe?'), answer.safe.text], [t('Valid?'), answer.valid.text], [t('Better?'), answer.better.text], [t('Worth it?'), answer.worth_it.text],
  ];
  return (
    <section class={bare ? '' : 'verdict ' + (answer.unsafe ? 'loss' : answer.verdict.replace(' ', '-'))} aria-label="Answer">
      {!bare && <p class="verdict-line"><span class="verdict-mark" aria-hidden="true">{answer.unsafe ? '!' : marks[answer.verdict]}</span><span>{says}</span></p>}
      <dl class="asked">
        {rows.map(([question, text]) => <div key={question}><dt>{question}</dt><dd>{words(text)}</dd></div>)}
      </dl>
      <p class="quiet">
        {t('A {a} ({pulls_a}), B {b} ({pulls_b}): mean of log torque, {confidence} interval.', { a: quantity('torque', answer.mean_a_n_m, 1), pulls_a: answer.pulls_a, b: quantity('torque', answer.mean_b_n_m, 1), pulls_b: answer.pulls_b,
          confidence: percent(answer.confidence, answer.confidence === 0.95 ? 0 : 1) })}{' '}
        {answer.degrees_of_freedom ? tn('One pull repeats to {sd} here ({level}, {n} degree of freedom).', 'One pull repeats to {sd} here ({level}, {n} degrees of freedom).', Math.round(answer.degrees_of_freedom), { sd: percent(answer.relative_sd, 2), level: betweenPulls(answer.level) }) + ' ' : null}
        {answer.smallest_margin ? t('Smallest margin this can show: {margin}.', { margin: percent(answer.smallest_margin) }) : null}
      </p>
      {onDespite && answer.may_be_asked.length > 0 && <p><button type="button" onClick={() => onDespite(answer.may_be_asked.join(','))}>{t('Compare all the same')}</button> <span class="quiet">{t('On purpose: the answer says what differs ({facts}), and is wider where something can be said of it.', { facts: answer.may_be_asked.map(inWords).join(', ') })}</span></p>}
      {answer.notes.length > 0 && <ul class="quiet">{answer.notes.map((m) => <li key={m.text}>{words(m.text)}</li>)}</ul>}
      {answer.next && answer.next.what !== 'none' && <Next says={answer.next.says} costs={answer.next.why} />}
      <Weights rows={answer.weights.map((w) => ({ pull: w.pull, name: w.side.toUpperCase(), weight: w.weight }))} heading={t('What each pull weighs')} of={t('Side')} figure={t('Weight')} decimals={2} says={weightsSay()} />
      {answer.whole_day && <details open={answer.whole_day.apart_from_plain}>
        <summary>{words(answer.whole_day.says.text)}</summary>
        <ul>{answer.whole_day.notes.map((n) => <li key={n.text}>{words(n.text)}</li>)}</ul>
      </details>}
      {answer.warnings.length > 0 && <ul class="mind">{gathered(answer.warnings.map((w) => w.text)).map((w) => <li key={w}>{words(w)}</li>)}</ul>}
      {onKeep && (kept ? <p class="quiet">Kept in the book; it counts as one look at these pulls.</p>
        : <p><button type="button" onClick={onKeep}>Keep this answer in the book</button> <span class="quiet">A kept answer counts as a look: the next one has to pass a stricter test.</span></p>)}
    </section>
  );
}
