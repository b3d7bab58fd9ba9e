/* The store of several cells: does what is written in this book reach it, what waits here, and since when it has not answered. */
import { useEffect, useState } from 'preact/hooks';
import { api, type Sending } from './api';
import { useQuestion } from './answered';
import { changes, route } from './state';
import { serverNow } from './clock';
import { date, fixed, time } from './format';
import { t, tn, tx } from './words';

/* Seconds since then; never: for ever. */
export const ago = (at: string | null | undefined) => at ? (serverNow() - Date.parse(at)) / 1000 : Infinity;
export const isStuck = (s: Sending) => s.state === 'no_answer' || s.state === 'refused';
const EVERY_S = 20; /* that a shop fell silent changes nothing in the book */
export function useSending() {
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => { if (!document.hidden) setTurn((n) => n + 1); }, 1000 * EVERY_S);
    return () => clearInterval(timer);
  }, []);
  return useQuestion('sending', api.sending, [changes.value, turn]).answer;
}

const says: Record<Sending['state'], () => string> = {
  alone: () => '', copy: () => t('a copy read from it: nothing is written here'), starting: () => t('nobody has answered yet since the program was started'), sent: () => t('the store has all'),
  behind: () => t('is being sent'), no_answer: () => t('does not answer; it is asked again by itself'), refused: () => t('refuses: somebody has to look'),
};

/* On every other screen one line, and only while something is wrong. */
export function StoreLine() {
  const s = useSending();
  if (!s || route.value.screen === 'shop' || !(isStuck(s) || (s.state === 'copy' && s.trouble))) return null;
  return (
    <p class={'said store-line' + (s.state === 'refused' ? ' grave' : '')}>
      <span><span translate={false}>{isStuck(s) ? tn("{n} entry waits for the shop's store.", "{n} entries wait for the shop's store.", s.waiting) : t("What came to the shop's store since is not shown here yet.")}</span> <a href="#/shop">Why?</a></span>
    </p>
  );
}

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
        {s.state === 'copy' && s.trouble && <p class="said"><span><span translate={false}>{s.trouble}</span> What is shown is what came before.</span></p>}
        {isStuck(s) && <p class="said grave"><span><span translate={false}>{s.trouble ?? ''}</span> Nothing is lost: what waits is in this book.</span></p>}</>}
    </section>
  );
}
