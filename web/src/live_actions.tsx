/* What is done at the window, always in the same place: mark, stop, shut down. Each has a key, and none of them waits for another.
 *
 * Stop in a pull asks once: the second press within ASK_MS stops, but not the second of a double tap. Once it was pressed it says so until the recording has ended: the
 * last pull may have to be worked out first. Shut down never asks: whoever presses it means it, and what it
 * asks of the dyno is a request (the cell's hard-wired stop comes first). */
import { useEffect, useRef, useState } from 'preact/hooks';
import { api } from './api';
import { complain } from './state';
import { useDraft } from './draft';
import { inPull, session } from './live_state';
import { Words } from './words_field';
import { t } from './words';

const ASK_MS = 5000, TWICE_MS = 400; /* sooner than this the second press is the first one's bounce */
const typing = (e: KeyboardEvent) => e.target instanceof HTMLElement && (e.target.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(e.target.tagName));

export function Actions() {
  const [note, setNote] = useDraft('live-mark', ''), [asks, setAsks] = useState(0), [ends, setEnds] = useState(false), place = useRef<HTMLDivElement>(null);
  const control = (line: string) => { api.liveControl(line).catch(complain); };
  const stop = () => {
    if (ends) return;
    if (inPull.value && !asks) { setAsks(performance.now()); return; }
    if (asks && performance.now() - asks < TWICE_MS) return;
    setAsks(0);
    setEnds(true);
    api.liveStop().catch((problem: unknown) => { setEnds(false); complain(problem); });
  };
  useEffect(() => { if (session.value !== 'recording') setEnds(false); }, [session.value]);
  useEffect(() => {
    if (!asks) return undefined;
    const timer = setTimeout(() => setAsks(0), ASK_MS);
    return () => clearTimeout(timer);
  }, [asks]);
  useEffect(() => {
    const key = (e: KeyboardEvent) => {
      if (typing(e) || e.ctrlKey || e.metaKey || e.altKey || e.repeat) return;
      if (e.key === 'm') { e.preventDefault(); place.current?.querySelector<HTMLElement>('input,textarea')?.focus(); }
      else if (e.key === 'S') { e.preventDefault(); stop(); }
      else if (e.key === 'X') { e.preventDefault(); control('shut down'); }
      else if (e.key === 'b' && !inPull.value) control('begin');
      else if (e.key === 'e') control('end');
    };
    addEventListener('keydown', key);
    return () => removeEventListener('keydown', key);
  });
  if (session.value !== 'recording') return null;
  return (
    <div class="live-actions" ref={place} role="group" aria-label="At the window">
      <form class="line-form" onSubmit={(e) => { e.preventDefault(); api.liveControl('mark ' + note).then(() => setNote(''), complain); (document.activeElement as HTMLElement | null)?.blur(); }}>
        <Words label="Mark" required most={390} value={note} placeholder="what you see or hear" onText={setNote} /><button type="submit">Mark</button><kbd>m</kbd>
      </form>
      <button type="button" class={'stop' + (asks ? ' asks' : '')} aria-disabled={ends} onClick={stop}>{ends ? t('Stopping…') : asks ? t('In a pull: press again to stop') : t('Stop recording')} <kbd>⇧S</kbd></button>
      <button type="button" class="shut-down" onClick={() => control('shut down')}>Shut the engine down <kbd>⇧X</kbd></button>
    </div>
  );
}
