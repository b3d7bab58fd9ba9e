/* A long list of rows of one height, of which those in sight are drawn and a few beyond: a book of thousands opens as one of thirty. */
import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { RefObject } from 'preact';

const BEYOND = 8, ROW_PX = 44;

/** Which of `n` rows stand in a box scrolled to `top`. */
export function inSight(n: number, top: number, seen: number, row: number): { from: number; to: number } {
  const first = Math.floor(top / row) - BEYOND, last = Math.ceil((top + seen) / row) + BEYOND;
  const from = Math.min(Math.max(first, 0), Math.max(n - 1, 0));
  return { from, to: Math.min(Math.max(last, from), n) };
}

export interface Windowed { box: RefObject<HTMLDivElement | null>; from: number; to: number; above: number; below: number; onScroll: () => void; toRow: (i: number) => void }
/** `key`: another list, which begins at its top. The height of a row is measured at the first one drawn (`tr[data-row]`). */
export function useWindow(n: number, key: string): Windowed {
  const box = useRef<HTMLDivElement>(null);
  const [at, setAt] = useState({ top: 0, seen: 0, row: ROW_PX });
  const look = () => {
    const b = box.current;
    if (!b) return;
    const row = b.querySelector<HTMLElement>('tr[data-row]')?.offsetHeight || at.row, next = { top: b.scrollTop, seen: b.clientHeight, row };
    setAt((was) => was.row === row && was.seen === next.seen && Math.floor(was.top / row) === Math.floor(next.top / row) ? was : next);
  };
  useLayoutEffect(() => { if (box.current) box.current.scrollTop = 0; look(); }, [key]);
  useLayoutEffect(() => {
    look();
    const watch = new ResizeObserver(look);
    if (box.current) watch.observe(box.current);
    return () => { watch.disconnect(); };
  }, [n]);
  const { from, to } = at.seen ? inSight(n, at.top, at.seen, at.row) : { from: 0, to: Math.min(n, Math.ceil(innerHeight / ROW_PX)) };
  const toRow = (i: number) => { if (box.current) { box.current.scrollTop = Math.max(i * at.row - at.seen / 2, 0); look(); } };
  return { box, from, to, above: from * at.row, below: (n - to) * at.row, onScroll: look, toRow };
}
