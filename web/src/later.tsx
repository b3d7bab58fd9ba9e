/* What is not seen first comes when it is asked for, and is fetched ahead once the page has nothing else to do, so that it is there
 * without the server as well.
 *
 *   NOT HERE --asked for, or idle--> ON ITS WAY --arrived--> HERE
 *                                    ON ITS WAY --did not arrive--> FAILED, said, with a button that loads the page again */
import { signal } from '@preact/signals';
import type { ComponentType } from 'preact';

type More = typeof import('./more');
const more = signal<More | null>(null), failed = signal(false);

let asked = false;
function fetchMore() {
  if (more.value || failed.value) return;
  import('./more').then((got) => { more.value = got; }, () => { failed.value = true; });
}
/** Once the page has nothing else to do, and at the latest after `most_ms`. */
export function whenIdle(work: () => void, most_ms = 5000) {
  const idle = window.requestIdleCallback as typeof requestIdleCallback | undefined; /* Safari has none */
  if (idle) idle(work, { timeout: most_ms }); else setTimeout(work, Math.min(most_ms, 1500));
}
const AHEAD_MS = 1500; /* idle is also who waits for an answer */
export function fetchAhead() { setTimeout(() => { whenIdle(fetchMore); }, AHEAD_MS); }
/** After what stands now has been painted; in a page that nobody sees, soon. */
export function afterPaint(work: () => void) {
  if (document.hidden) setTimeout(work);
  else requestAnimationFrame(() => { setTimeout(work); });
}

/** Nothing until it is here: what can wait. */
export function Soon({ part }: { part: (m: More) => ComponentType<object> }) {
  const Shown = more.value && part(more.value);
  return Shown && <Shown />;
}

export function Later<P extends object>({ part, given }: { part: (m: More) => ComponentType<P>; given: P }) {
  if (!more.value) {
    if (failed.value) return <p class="said grave lone">This part of the page did not arrive. <button type="button" onClick={() => location.reload()}>Load the page again</button></p>;
    if (!asked) { asked = true; afterPaint(fetchMore); }
    return <p class="quiet lone">Opening…</p>;
  }
  const Shown = part(more.value) as ComponentType<object>;
  return <Shown {...given} />;
}
