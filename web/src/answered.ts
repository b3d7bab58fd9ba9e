/* An answer of the server on the screen; without the server the one kept last, whose age the page then says. */
import { useEffect, useState } from 'preact/hooks';
import { isGone } from './api';
import { answered, showsNoMore } from './kept';
import { complain } from './state';

/* `what`: under which name it is kept. `deps`: when it is asked for again. That the server is gone is said once, by the page. */
export function useAnswered<T>(what: string, ask: () => Promise<T>, deps: unknown[]): T | null {
  const [answer, setAnswer] = useState<{ what: string; is: T } | null>(null);
  useEffect(() => {
    let left = false;
    answered(what, ask).then((is) => { if (!left) setAnswer({ what, is }); }, (problem: unknown) => {
      if (!left && !isGone(problem)) complain(problem);
    });
    return () => { left = true; };
  }, [what, ...deps]);
  useEffect(() => () => { showsNoMore(what); }, [what]);
  return answer?.what === what ? answer.is : null;
}
