/* The page in the reader's language. A text is English and is its own key; the program's catalogue has the others
 * (GET words). What stands in the markup is looked up where Preact makes elements (labels.ts); what is built from parts
 * is a whole sentence with {places} and goes through t(), tx() or tn().
 *
 * The choice: this device's own (a cookie, so that the server's texts follow), else the browser's list. English asks for
 * nothing. The catalogue last read is kept on the device, so that a page without its server is in the same language. */
import type { ComponentChild } from 'preact';
import { signal } from '@preact/signals';

interface Words { language: string; languages: string[]; decimal: string; thousands: string; day: string; texts: [string, string, string?][] }
type Values = Record<string, string | number>;

const PLACE = 'words', COOKIE = 'ew_language';
export const language = signal('en');
export const languages = signal<string[]>(['en', 'de']);
let texts = new Map<string, [string, string?]>();
let day = '%Y-%m-%d';

function chosen(): string | null {
  return document.cookie.split('; ').find((one) => one.startsWith(COOKIE + '='))?.slice(COOKIE.length + 1) ?? null;
}
const wantsEnglish = () => (chosen() ?? navigator.languages?.[0] ?? navigator.language ?? 'en').startsWith('en');

function take(words: Words) {
  texts = new Map(words.texts.map(([key, one, many]) => [key, [one, many]]));
  day = words.day;
  languages.value = words.languages;
  language.value = words.language;
  document.documentElement.lang = words.language;
}
function keptWords(): Words | null {
  try { return JSON.parse(localStorage.getItem(PLACE) ?? 'null') as Words | null; } catch { return null; }
}

/** Before the first element is made. A server that does not answer leaves the language of before. */
export async function loadWords(): Promise<void> {
  if (wantsEnglish()) return;
  try {
    const early = await window.early?.answers['words']?.catch(() => null), answer = early?.ok ? early : await fetch('/api/v1/words');
    if (!answer.ok) throw new Error('words');
    const words = ('json' in answer ? await answer.json() : JSON.parse(answer.text)) as Words;
    take(words);
    try { localStorage.setItem(PLACE, JSON.stringify(words)); } catch { /* a browser that keeps nothing asks again */ }
  } catch {
    const words = keptWords();
    if (words) take(words);
  }
}
/** The page begins again: everything that was asked of the server was answered in the language of before. */
export function setLanguage(code: string) {
  document.cookie = `${COOKIE}=${code}; path=/; max-age=31536000; samesite=strict`;
  location.reload();
}

/** The locale of figures: English ones are written as the trade writes them, 4,500 and 0.88. */
export const locale = () => language.value === 'en' ? 'en-US' : language.value;

const look = (key: string) => texts.get(key)?.[0] ?? key;
const fill = (text: string, values?: Values) => values ? text.replace(/\{(\w+)\}/g, (all, name: string) => name in values ? String(values[name]) : all) : text;

export function t(english: string, values?: Values): string { return fill(look(english), values); }
/** One or many by the count, which stands in the text as {n}. */
export function tn(one: string, many: string, n: number, values?: Values): string {
  const own = texts.get(one);
  return fill(n === 1 ? own?.[0] ?? one : own?.[1] ?? own?.[0] ?? many, { n, ...values });
}
/** A word that has several meanings: `context` says which. */
export function tc(context: string, english: string): string { return texts.get(`${context}\u0004${english}`)?.[0] ?? english; }
/** A sentence with elements in it: tx('Read {file} first', { file: <a ...>...</a> }). */
export function tx(english: string, values: Record<string, ComponentChild>): ComponentChild[] {
  return look(english).split(/(\{\w+\})/).map((part) => {
    const name = /^\{(\w+)\}$/.exec(part)?.[1];
    return name && name in values ? values[name] : part;
  });
}
/** A text of the markup, its outer blanks kept. */
export function inWords(text: string): string {
  if (texts.size === 0) return text;
  const bare = text.trim(), own = bare && texts.get(bare)?.[0];
  return own ? text.replace(bare, () => own) : text;
}
/** "2026-12-01" as the reader writes a day. */
export function dayOf(iso: string): string {
  const [year = '', month = '', date = ''] = iso.slice(0, 10).split('-');
  return day.replace('%Y', year).replace('%m', month).replace('%d', date);
}
