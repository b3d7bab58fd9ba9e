/* What was typed and not kept yet: in the browser by book and form, so that another screen, a reload or an empty battery
 * loses nothing. What is kept in the book, or emptied by hand, is let go of here. Two pages of one device show the same
 * draft; what one of them has sent or changed shows in the other, unless something else was typed there. */
import { useEffect, useRef, useState } from 'preact/hooks';
import { signal } from '@preact/signals';
import { book } from './state';

const MARK = 'draft-';
const placeOf = (name: string) => `${MARK}${book.value?.identity ?? ''}-${name}`;
/* Names of drafts whose loss somebody would mind beyond their own screen: the tab's title marks them. */
export const changed = signal<string[]>([]);
export function markChanged(name: string, is: boolean) {
  if (changed.value.includes(name) !== is) changed.value = is ? [...changed.value, name] : changed.value.filter((n) => n !== name);
}

function parsed<T>(text: string | null): T | null {
  try { return text == null ? null : JSON.parse(text) as T; } catch { return null; }
}
export function readDraft<T>(name: string): T | null {
  try { return parsed<T>(localStorage.getItem(placeOf(name))); } catch { return null; }
}
/* null: nothing is left to be kept. */
export function writeDraft<T>(name: string, value: T | null) {
  try {
    if (value == null) localStorage.removeItem(placeOf(name)); else localStorage.setItem(placeOf(name), JSON.stringify(value));
  } catch { /* a browser that keeps nothing has it until the page is closed */ }
}

/** A form's state that outlives it. `empty`: what is no draft. Writing it empties the place. */
export function useDraft<T>(name: string, empty: T): [T, (next: T | ((old: T) => T)) => void] {
  const blank = JSON.stringify(empty), [value, setValue] = useState<T>(() => readDraft<T>(name) ?? empty), now = useRef(value), of = useRef(name);
  now.current = value;
  const show = (next: T) => { now.current = next; setValue(next); };
  if (of.current !== name) { of.current = name; show(readDraft<T>(name) ?? empty); }
  useEffect(() => {
    const other = (e: StorageEvent) => {
      if (e.key !== placeOf(name) || JSON.stringify(now.current) !== (e.oldValue ?? blank)) return;
      show(parsed<T>(e.newValue) ?? (JSON.parse(blank) as T));
    };
    addEventListener('storage', other);
    return () => { removeEventListener('storage', other); };
  }, [name, blank]);
  const set = (next: T | ((old: T) => T)) => {
    const is = typeof next === 'function' ? (next as (old: T) => T)(now.current) : next;
    show(is);
    writeDraft(name, JSON.stringify(is) === blank ? null : is);
  };
  return [value, set];
}
