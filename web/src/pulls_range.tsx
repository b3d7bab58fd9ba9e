/* The part of the plot that is seen, typed: what a box drawn with the mouse does, for a keyboard. Empty: all of it. */
import { useEffect, useState } from 'preact/hooks';
import type { Seen, Span } from './plot_line';
import { t } from './words';

const text = (span: Span, i: 0 | 1) => span ? String(Number(span[i].toPrecision(5))) : '';

export function Range({ seen, unit, onSeen }: { seen: Seen; unit: string; onSeen: (seen: Seen) => void }) {
  const now = { x0: text(seen.x, 0), x1: text(seen.x, 1), y0: text(seen.y, 0), y1: text(seen.y, 1) };
  const [typed, setTyped] = useState(now), key = Object.values(now).join();
  useEffect(() => setTyped(now), [key]);
  const [wrong, setWrong] = useState('');
  const span = (low: string, high: string): Span | undefined => {
    if (!low.trim() && !high.trim()) return null;
    const a = Number(low.replace(',', '.')), b = Number(high.replace(',', '.'));
    return low.trim() && high.trim() && Number.isFinite(a) && Number.isFinite(b) && b > a ? [a, b] : undefined;
  };
  const apply = (e: Event) => {
    e.preventDefault();
    const x = span(typed.x0, typed.x1), y = span(typed.y0, typed.y1);
    setWrong(x === undefined ? t('Speed: two numbers, the lower first; or neither, for all of it.') : y === undefined ? t('Upright: two numbers, the lower first; or neither, for all of it.') : '');
    if (x !== undefined && y !== undefined) onSeen({ x, y });
  };
  const field = (of: keyof typeof now, says: string) => <input inputMode="decimal" aria-label={says} value={typed[of]} onInput={(e) => setTyped({ ...typed, [of]: e.currentTarget.value })} />;
  return (
    <details class="range"><summary>{seen.x || seen.y ? t('Range: part') : t('Range')}</summary>
      <form class="range-form" onSubmit={apply}>
        <span>{t('Speed, rpm')} {field('x0', t('speed from, rpm'))} – {field('x1', t('speed to, rpm'))}</span>
        <span>{unit ? t('Upright, {unit}', { unit }) : t('Upright')} {field('y0', t('upright from'))} – {field('y1', t('upright to'))}</span>
        <button type="submit">Show</button>
        <button type="button" onClick={() => { setWrong(''); onSeen({ x: null, y: null }); }}>All of it</button>
        {wrong && <p class="problem" role="alert">{wrong}</p>}
      </form>
    </details>
  );
}
