/* The screen at the cell is kept from sleeping while it is looked at: Screen Wake Lock API (W3C), where the browser has it (a
 * secure address), and taken again when the page is seen again. That it may sleep all the same is told. */
import { signal } from '@preact/signals';

/** null: nobody asked yet. */
export const awake = signal<'kept' | 'refused' | 'not here' | null>(null);

export function keepAwake(): () => void {
  let lock: WakeLockSentinel | null = null, left = false;
  const take = () => {
    if (!('wakeLock' in navigator)) { awake.value = 'not here'; return; }
    if (document.hidden) return;
    navigator.wakeLock.request('screen').then((got) => { awake.value = 'kept'; if (left) void got.release(); else lock = got; }, () => { awake.value = 'refused'; }); /* a device that saves its battery may say no */
  };
  document.addEventListener('visibilitychange', take);
  take();
  return () => { left = true; document.removeEventListener('visibilitychange', take); void lock?.release(); };
}
