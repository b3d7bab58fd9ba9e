/* The store of several cells: does what is written in this book reach it, what waits here, and since when it has not answered. */
import { api, type Sending } from './api';
import { useQuestion } from './answered';
import { changes } from './state';
import { serverNow } from './clock';
import { date, fixed, time } from './format';
import { t, tn, tx } from './words';

/* Seconds since then; never: for ever. */
export const ago = (at: string | null | undefined) => at ? (serverNow() - Date.parse(at)) / 1000 : Infinity;
export const isStuck = (s: Sending) => s.state === 'no_answer' || s.state === 'refused';
export const useSending = () => useQuestion('sending', api.sending, [changes.value]).answer;

const says: Record<Sending['state'], () => string> = {
  alone: () => '', copy: () => t('a copy read from it: nothing is written here'), starting: () => t('nobody has answered yet since the program was started'), sent: () => t('the store has all'),
  behind: () => t('is being sent'), no_answer: () => t('does not answer; it is asked again by itself'), refused: () => t('refuses: somebody has to look'),
};

export function StoreCard() {
  const s = useSending();
  if (!s) return null;
  return (
    <section class="card">
      <h2>The shop's store</h2>
      {s.state === 'alone' ? <p class="quiet">{tx('This book stands alone. Where several cells share one store, {command} joins it; the cell goes on working without it.', { command: <code translate={false}>enginewright book join</code> })}</p> : <>
        <dl class="facts">
          <div><dt>Store</dt><dd translate={false}>{s.shop}</dd></div>
          <div><dt>State</dt><dd class={isStuck(s) ? 'grave-word' : ''}>{says[s.state]()}</dd></div>
          {s.state !== 'copy' && <div><dt>Waiting here</dt><dd class={isStuck(s) ? 'grave-word' : ''}>{s.waiting === 0 ? t('nothing') : tn('{n} entry', '{n} entries', s.waiting)}</dd></div>}
          <div><dt>Last heard of it</dt><dd class={isStuck(s) ? 'grave-word' : ''}>{s.reached_at ? `${date(s.reached_at)} ${time(s.reached_at)} UTC` : t('never')}</dd></div>
          {s.clock_s != null && Math.abs(s.clock_s) > 2 && <div><dt>Clocks</dt><dd class="grave-word">{t("this machine's is {s} s from the store's", { s: fixed(-s.clock_s, 1) })}</dd></div>}
        </dl>
        {isStuck(s) && <p class="said grave"><span><span translate={false}>{s.trouble ?? ''}</span> Nothing is lost: what waits is in this book.</span></p>}</>}
    </section>
  );
}
