/* What a device at the engine has read, until the book has it: kept in the browser, sent in order,
 * tried again when the connection is back. The book knows a record by itself, so that sending it
 * twice adds nothing. */
import { signal } from '@preact/signals';
import { api, Refusal } from './api';
import { changes, complain, connected } from './state';

export interface Waiting { kind: string; record: Record<string, string> }
const PLACE = 'waiting-records';

function stored(): Waiting[] {
  try { return JSON.parse(localStorage.getItem(PLACE) ?? '[]') as Waiting[]; } catch { return []; }
}
export const waiting = signal<Waiting[]>(stored());
export const refused = signal<{ what: Waiting; why: string }[]>([]);
let sending = false;

function store(list: Waiting[]) {
  waiting.value = list;
  try { localStorage.setItem(PLACE, JSON.stringify(list)); } catch (problem) { complain(problem); }
}

export function keep(kind: string, record: Record<string, string>) {
  store([...waiting.value, { kind, record }]);
  void sendAll();
}

export async function sendAll() {
  if (sending) return;
  sending = true;
  try {
    while (waiting.value.length > 0) {
      const first = waiting.value[0]!;
      try {
        await (first.kind === 'note' ? api.noteAdd(first.record) : api.buildRecord(first.kind, first.record));
      } catch (problem) {
        if (!(problem instanceof Refusal) || problem.status === 0 || problem.status === 401 || problem.status >= 500) return;
        refused.value = [...refused.value, { what: first, why: problem.message }];
      }
      store(waiting.value.slice(1));
      changes.value++;
    }
  } finally { sending = false; }
}
setInterval(() => { if (waiting.value.length > 0) void sendAll(); }, 3000);
addEventListener('online', () => { void sendAll(); });
connected.subscribe((on) => { if (on && waiting.value.length > 0) void sendAll(); });
