/* A press is of what lay under the finger when it came down. An alarm that comes meanwhile moves what stands on the screen: a browser then gives the press to
 * nothing, or to whatever lies there now. A finger that slid away meant to let go. */
const STILL_PX = 16, AFTER_MS = 400;
let down: { on: HTMLButtonElement; x: number; y: number } | null = null, given: { on: HTMLButtonElement; until_ms: number } | null = null;
addEventListener('pointerdown', (e) => {
  const on = e.isPrimary && e.button === 0 && e.target instanceof Element ? e.target.closest('button') : null;
  down = on && { on, x: e.clientX, y: e.clientY };
}, true);
addEventListener('pointerup', (e) => {
  const was = down;
  down = null;
  if (!was || !was.on.isConnected || was.on.contains(document.elementFromPoint(e.clientX, e.clientY)) || Math.hypot(e.clientX - was.x, e.clientY - was.y) > STILL_PX) return;
  given = { on: was.on, until_ms: performance.now() + AFTER_MS };
  was.on.click();
}, true);
addEventListener('pointercancel', () => { down = null; }, true);
/* The browser's own, of the same press. */
addEventListener('click', (e) => {
  if (!given || !e.isTrusted || e.detail === 0 || performance.now() > given.until_ms) return; /* detail 0: of a key */
  given = null;
  e.preventDefault();
  e.stopImmediatePropagation();
}, true);
