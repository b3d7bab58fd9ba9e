/* The whole screen for what is read from afar (Fullscreen API, WHATWG), by button or F, and told where the screen may fall asleep. Neither
 * touches what is on the page: coming back, all stands as it was. */
import { useEffect, useState } from 'preact/hooks';
import { awake } from './awake';
import { complain } from './state';
import { t } from './words';

const isFull = () => document.fullscreenElement != null;
function turn() {
  const turned = isFull() ? document.exitFullscreen() : document.documentElement.requestFullscreen();
  turned.catch(() => complain(t('The browser did not give the whole screen: press its own key, often F11.')));
}

export function FullScreen() {
  const [full, setFull] = useState(isFull());
  useEffect(() => {
    const seen = () => setFull(isFull());
    const key = (e: KeyboardEvent) => {
      if (!document.fullscreenEnabled || e.key.toLowerCase() !== 'f' || e.ctrlKey || e.metaKey || e.altKey || e.repeat || (e.target instanceof HTMLElement && /^(INPUT|TEXTAREA|SELECT)$/.test(e.target.tagName))) return;
      e.preventDefault(); turn();
    };
    document.addEventListener('fullscreenchange', seen);
    addEventListener('keydown', key);
    return () => { document.removeEventListener('fullscreenchange', seen); removeEventListener('keydown', key); };
  }, []);
  return <span class="full-screen">
    {document.fullscreenEnabled && <button type="button" class="plain" aria-keyshortcuts="f" onClick={turn}>{full ? t('Leave full screen') : t('Full screen')}</button>}
    {awake.value === 'refused' && <span class="quiet">This device may let its screen sleep: its battery saver says so.</span>}
    {awake.value === 'not here' && <span class="quiet">This screen may fall asleep: only over TLS can the page keep it awake.</span>}
  </span>;
}
