/* The map of keys: opened by ? on any screen, closed by Escape. Written once, here; docs/manual/page.md points to it. */
import { useEffect, useRef } from 'preact/hooks';
import { t } from './words';

const typing = (e: KeyboardEvent) => e.target instanceof HTMLElement && (e.target.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(e.target.tagName));

export function Keys() {
  const box = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const key = (e: KeyboardEvent) => { if (e.key === '?' && !typing(e) && !box.current?.open) { e.preventDefault(); box.current?.showModal(); } };
    addEventListener('keydown', key);
    return () => removeEventListener('keydown', key);
  }, []);
  const parts: [string, [string, string][]][] = [
    [t('Everywhere'), [['?', t('this map')], ['Tab', t('to the next thing; Enter or Space does it')], ['Esc', t('closes what was opened')]]],
    [t('On a plot'), [['← →', t('move the cursor; with Shift ten points')], ['↑ ↓', t('choose a line')], ['+ −', t('zoom about the cursor')], ['0', t('show all')], ['p', t('put a pin, or take it away')], ['Enter', t('walk the figure back to its samples')]]],
    [t('Live'), [['f', t('full screen, and back; on the window too')], ['m', t('mark what you see')], ['b', t('begin a pull by hand')], ['e', t('end it')], ['⇧S', t('stop recording; in a pull it asks once')], ['⇧X', t('ask for a shut-down at once')]]],
  ];
  return (
    <dialog ref={box} class="keys" aria-label="Keys">
      <h2>Keys</h2>
      {parts.map(([name, keys]) => <section key={name}><h3>{name}</h3><dl>{keys.map(([k, does]) => <div key={k}><dt><kbd translate={false}>{k}</kbd></dt><dd>{does}</dd></div>)}</dl></section>)}
      <form method="dialog"><button type="submit">Close</button></form>
    </dialog>
  );
}
