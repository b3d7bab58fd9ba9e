/* After a pull, one card: was that better, what speaks against going on, what comes next; and what to do about it without leaving the window. */
import { useState } from 'preact/hooks';
import { useDraft } from './draft';
import { api } from './api';
import { useAsked } from './answered';
import { changes, complain, say, units } from './state';
import { quantity, rpm, words } from './format';
import { inPull, lastKept, state } from './live_state';
import { t, tx } from './words';

/* One line to type, behind a word; it closes when it is kept. */
function Line({ draft, word, asks, placeholder, keep }: { draft: string; word: string; asks: string; placeholder: string; keep: (text: string) => Promise<unknown> }) {
  const [text, setText] = useDraft(draft, ''), [open, setOpen] = useState(text !== '');
  if (!open) return <button type="button" onClick={() => setOpen(true)}>{word}</button>;
  return (
    <form class="line-form" onSubmit={(e) => { e.preventDefault(); keep(text.trim()).then(() => { setText(''); setOpen(false); changes.value++; }, complain); }}>
      <label>{asks} <input required autoFocus maxLength={390} value={text} placeholder={placeholder} onInput={(e) => setText(e.currentTarget.value)} /></label>
      <button type="submit">{word}</button><button type="button" class="plain" onClick={() => setOpen(false)}>Leave it</button>
    </form>
  );
}

export function After() {
  const [gone, setGone] = useState(0), kept = lastKept.value, own = state.value?.own_book != null, pull = own ? 0 : kept?.pull ?? 0, against = kept?.against ?? 0;
  const { answer } = useAsked(`after-${pull}-${against}`, pull && against ? () => api.compare([against], [pull], false) : null, [changes.value]);
  const { answer: step } = useAsked(`after-step-${pull}`, pull ? () => api.stepUp(pull) : null, [changes.value]);
  const { answer: day } = useAsked(`after-day-${pull}`, pull ? () => api.day(units.value) : null, [changes.value]);
  const said = <p class="unseen" role="status">{kept && !inPull.value ? `${t('Pull {pull}', { pull: kept.pull })}: ${words(answer ? answer.says.text : kept.text)}` : ''}</p>; /* there before there is anything to say: what comes into it is read out */
  if (!kept || inPull.value) return said;
  const both = `#/pulls?${against ? `a=${against}&b=${pull}` : `a=${pull}`}`;
  return (<>{said}
    <section class={'card pull-card' + (answer ? ' verdict ' + (answer.unsafe ? 'loss' : answer.verdict.replace(' ', '-')) : '')} aria-label="After the pull">
      <h2>{t('Pull {pull}', { pull: kept.pull })}</h2>
      <p class="after-says">{words(answer ? answer.says.text : t('{low} to {high} rpm, mean {torque}', { low: rpm(kept.low_rpm), high: rpm(kept.high_rpm), torque: quantity('torque', kept.mean_n_m, 1) }))}</p>
      {!answer && <p>{words(kept.text)}</p>}
      {own && <p class="quiet">{tx('It went into the practice book {book}.', { book: <span translate={false}>{state.value?.own_book}</span> })}</p>}
      {step && step.says.text !== day?.why.text && <p>{words(step.says.text)}</p>}
      {day && <p class="next after-next"><span class="quiet">Next sensible step</span> <b>{words(day.next.text)}</b> <span class="quiet">{words(day.why.text)}</span></p>}
      {pull > 0 && <div class="tools">
        <a class="button" href={both}>{against ? t('Both curves') : t('Its curve')}</a>
        <Line key={`seen-${pull}`} draft={`found-pull-${pull}`} word={t('Write down what was seen')} asks={t('Seen after it')} placeholder={t('a plug, a hose, the filter')} keep={(text) => api.found('pull', [pull], text, '').then(() => { say(t('Written down; it stays in the book.')); })} />
        {gone !== pull && <Line key={`discard-${pull}`} draft={`discard-${pull}`} word={t('Discard')} asks={t('Discard, because')} placeholder={t('missed the start, a hose came off')} keep={(text) => api.discard(pull, text).then(() => { setGone(pull); say(t('Pull {pull} is discarded.', { pull }), () => { void api.takeBack(pull).then(() => { setGone(0); changes.value++; }, complain); }); })} />}
      </div>}
    </section></>
  );
}
