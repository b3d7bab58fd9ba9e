/* An answer of the server on the screen; without the server the one kept last, whose age the page then says. A question that
 * is refused has an answer too: a screen that waits for nothing else says it, and where to go from there. */
import { useEffect, useLayoutEffect, useState } from 'preact/hooks';
import { isGone } from './api';
import { answered, showsNoMore } from './kept';
import { complain } from './state';
import { t } from './words';

const whyOf = (problem: unknown, gone: string) => isGone(problem) ? gone : problem instanceof Error ? problem.message : String(problem);

/** `what`: under which name it is kept, `lean` how much of it. `deps`: when it is asked for again. `why`: what the server said no to, when no answer stands. */
export function useQuestion<T>(what: string, ask: () => Promise<T>, deps: unknown[], lean?: (answer: T) => T): { answer: T | null; why: string | null } {
  const [got, setGot] = useState<{ what: string; is: T | null; why: string | null } | null>(null);
  useLayoutEffect(() => { /* asked for at once, not after the next frame */
    let left = false;
    answered(what, ask, lean).then((is) => { if (!left) setGot({ what, is, why: null }); }, (problem: unknown) => {
      if (!left) setGot((old) => ({ what, is: old?.what === what ? old.is : null, why: whyOf(problem, t('the server does not answer, and this device has kept no copy')) }));
    });
    return () => { left = true; };
  }, [what, ...deps]);
  useEffect(() => () => { showsNoMore(what); }, [what]);
  return got?.what === what ? { answer: got.is, why: got.why } : { answer: null, why: null };
}
/** The same for a part of a screen: what is refused is said above, and that the server is gone is said once, by the page. */
export function useAnswered<T>(what: string, ask: () => Promise<T>, deps: unknown[]): T | null {
  const { answer, why } = useQuestion(what, () => ask().catch((problem: unknown) => { if (!isGone(problem)) complain(problem); throw problem; }), deps);
  void why;
  return answer;
}
/** What is asked for in passing and kept nowhere: an answer for another `what` is never shown. `ask` null: nothing is asked. */
export function useAsked<T>(what: string, ask: (() => Promise<T>) | null, deps: unknown[] = []): { answer: T | null; why: string | null } {
  const [got, setGot] = useState<{ what: string; is: T | null; why: string | null } | null>(null);
  useEffect(() => {
    let left = false;
    ask?.().then((is) => { if (!left) setGot({ what, is, why: null }); }, (problem: unknown) => {
      if (!left) setGot((old) => ({ what, is: old?.what === what ? old.is : null, why: whyOf(problem, t('the server does not answer')) }));
    });
    return () => { left = true; };
  }, [what, ask === null, ...deps]);
  return got?.what === what ? { answer: got.is, why: got.why } : { answer: null, why: null };
}
