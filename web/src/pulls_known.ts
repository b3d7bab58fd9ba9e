/* The pulls of the book: the newest at once, the rest when the page has nothing else to do, so that a book of thousands opens as one of
 * thirty. A pull that is added or amended shows with the newest; until the rest has come again it stands in its former state.
 *
 *   NOTHING --the newest came--> PART --all came--> WHOLE --something changed--> WHOLE, newest at once --all came--> WHOLE */
import { useMemo, useState } from 'preact/hooks';
import { api, type Pull } from './api';
import { useQuestion } from './answered';
import { whenIdle } from './later';

const NEWEST = 100, KEPT_MOST = 500, REST_MS = 1500;

/** `known` in the order of the book with `newest`, the end of that order, in the place of what it said of these. */
export function joined(known: Pull[], newest: Pull[]): Pull[] {
  const again = new Set(newest.map((p) => p.id));
  return [...known.filter((p) => !again.has(p.id)), ...newest];
}

/* At which version of the book an answer was asked for; one kept on this device: none. */
const askedAt = new WeakMap<Pull[], number>();

export interface KnownPulls { pulls: Pull[] | null; of: number; whole: boolean; why: string | null }
/** `of`: how many there are in all. `whole`: these are they. Without the server the last KEPT_MOST, as kept on this device. */
export function usePulls(system: string, version: number): KnownPulls {
  const what = `pulls-${system}`;
  const [newest, setNewest] = useState<{ what: string; version: number; pulls: Pull[]; of: number } | null>(null);
  const ask = async () => {
    const first = await api.newest(system, NEWEST);
    setNewest((old) => old && old.what === what && old.version > version ? old : { what, version, ...first });
    if (first.of > first.pulls.length) await new Promise<void>((done) => { whenIdle(done, REST_MS); });
    const all = first.of > first.pulls.length ? await api.pulls(system) : first.pulls;
    askedAt.set(all, version);
    return all;
  };
  const { answer, why } = useQuestion(what, ask, [version], (all) => all.slice(-KEPT_MOST));
  return useMemo(() => {
    const fresh = newest?.what === what ? newest : null;
    if (!answer) return { pulls: fresh?.pulls ?? null, of: fresh?.of ?? 0, whole: false, why };
    const pulls = fresh && fresh.version > (askedAt.get(answer) ?? Infinity) ? joined(answer, fresh.pulls) : answer;
    return { pulls, of: pulls.length, whole: true, why };
  }, [answer, newest, what, why]);
}
