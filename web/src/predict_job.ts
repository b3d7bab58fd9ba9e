/* A piece of long work on the server, followed until it ends: told by the stream of events, and asked
 * after once a second in case the stream was cut. */
import { api, type Job, type PredictQuestion } from './api';
import { listen, units } from './state';
import { t } from './words';

/* This page's own name: its newer question takes the place of its older one. */
export const pageName = 'page-' + Math.random().toString(36).slice(2, 12).replace(/[^a-z0-9]/g, '');

function nextNews(job: number, onShare?: (share: number) => void): Promise<void> {
  return new Promise((resolve) => {
    const stop = listen('job', (data) => {
      const news = JSON.parse(data) as { job: number; state: string; share: number };
      if (news.job !== job) return;
      if (news.state === 'running') onShare?.(news.share);
      else done();
    });
    const later = setTimeout(done, 1000);
    function done() { stop(); clearTimeout(later); resolve(); }
  });
}

/* The answer; null when it was cancelled or another question took its place. Refusals are thrown. */
export async function follow<A>(what: '' | '/fit' | '/vary' | '/inside' | '/compression', question: Omit<PredictQuestion, 'page'>, onShare?: (share: number) => void, onStart?: (job: number) => void): Promise<A | null> {
  const job = await api.predictStart(what, { ...question, page: pageName }, units.value);
  onStart?.(job);
  return await followJob<A>(job, onShare);
}

/* The same of any job that was begun. */
export async function followJob<A>(job: number, onShare?: (share: number) => void): Promise<A | null> {
  for (;;) {
    const news = nextNews(job, onShare); /* listened for before asking, so that none is missed */
    const now: Job<A> = await api.predictJob<A>(job);
    if (now.state === 'done') return now.answer ?? null;
    if (now.state === 'cancelled') return null;
    if (now.state === 'refused') throw new Error(now.refused ?? t('This was refused.'));
    onShare?.(now.share);
    await news;
  }
}
