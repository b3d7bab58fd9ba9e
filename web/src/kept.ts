/* What the page keeps on the device of the last answers, to be shown with their time when the server is gone. */
import { signal } from '@preact/signals';
import { Refusal } from './api';

/* When what is shown was answered; null: just now, by the server. */
export const keptAt = signal<string | null>(null);

interface Kept<T> { at: string; answer: T }
const place = (what: string) => 'kept-' + what;

function keep<T>(what: string, answer: T) {
  try { localStorage.setItem(place(what), JSON.stringify({ at: new Date().toISOString(), answer })); } catch { /* too large or not allowed: then it is not kept */ }
}
function kept<T>(what: string): Kept<T> | null {
  try { return JSON.parse(localStorage.getItem(place(what)) ?? 'null') as Kept<T> | null; } catch { return null; }
}
const gone = (problem: unknown) => problem instanceof Refusal && problem.status === 0;

/* The server's answer, kept; without the server the one kept last. A refusal of the server is passed on. */
export async function answered<T>(what: string, ask: () => Promise<T>): Promise<T> {
  try {
    const answer = await ask();
    keep(what, answer);
    keptAt.value = null;
    return answer;
  } catch (problem) {
    const last = gone(problem) ? kept<T>(what) : null;
    if (!last) throw problem;
    keptAt.value = last.at;
    return last.answer;
  }
}

/* A worker needs a secure context: this machine, or TLS. Without it the page has to stay open. */
export const reloadsAlone = isSecureContext && 'serviceWorker' in navigator;
export function registerOffline() {
  if (reloadsAlone) void navigator.serviceWorker.register('/offline.js').catch(() => undefined);
}
