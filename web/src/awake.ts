/* The screen at the cell is kept from sleeping while it is looked at: Screen Wake Lock API (W3C), where the browser has it (a
 * secure address), and taken again when the page is seen again. */
export function keepAwake(): () => void {
  let lock: WakeLockSentinel | null = null, left = false;
  const take = () => {
    if (!('wakeLock' in navigator) || document.hidden) return;
    navigator.wakeLock.request('screen').then((got) => { if (left) void got.release(); else lock = got; }, () => undefined); /* a device that saves its battery may say no */
  };
  document.addEventListener('visibilitychange', take);
  take();
  return () => { left = true; document.removeEventListener('visibilitychange', take); void lock?.release(); };
}
