/* What a device at the engine has read, until the book has it: kept in the browser, sent in order,
 * tried again when the connection is back. The book knows a record by itself, so that sending it
 * twice adds nothing. An entry names the book that it was taken for, and waits while another is open. */
import { computed, signal } from '@preact/signals';
import { api, Refusal, type Book } from './api';
import { book, changes, complain, connected, say } from './state';
import { tn } from './words';

/* `identity` and `book`: for which book; missing in entries of an earlier page. `why`: what the server said no to; `asks`: it is taken when somebody says that it is so. */
export interface Waiting { kind: string; record: Record<string, string>; identity?: string; book?: string; why?: string; asks?: boolean }
const PLACE = 'waiting-records';

function stored(): Waiting[] {
  try { return JSON.parse(localStorage.getItem(PLACE) ?? '[]') as Waiting[]; } catch { return []; }
}
const all = signal<Waiting[]>(stored());
let sending = false;

/* A copy under another name is no place for it either: somebody only looks into a backup. */
export const isOf = (w: { identity?: string; book?: string }, here: Book | null) => !here || ((!w.identity || w.identity === here.identity) && (!w.book || w.book === here.book));
export const waiting = computed(() => all.value.filter((w) => !w.why && isOf(w, book.value)));
export const refused = computed(() => all.value.filter((w) => w.why));
export const elsewhere = computed(() => all.value.filter((w) => !w.why && !isOf(w, book.value)));

function store(list: Waiting[]) {
  all.value = list;
  try { localStorage.setItem(PLACE, JSON.stringify(list)); } catch (problem) { complain(problem); }
}
const replace = (one: Waiting, by: Waiting[]) => { store(all.value.flatMap((w) => w === one ? by : [w])); };

export function keep(kind: string, record: Record<string, string>) {
  const here = book.value;
  store([...all.value, { kind, record, ...(here ? { identity: here.identity, book: here.book } : {}) }]);
  void sendAll();
}
export function tryAgain(one: Waiting, record = one.record) {
  const { why: _why, asks: _asks, ...again } = one;
  replace(one, [{ ...again, record }]);
  void sendAll();
}
export function itIsSo(one: Waiting) {
  tryAgain(one, { ...one.record, sure: 'yes' });
}
export function letGo(list: Waiting[]) {
  store(all.value.filter((w) => !list.includes(w)));
  say(tn('One entry was let go.', '{n} entries were let go.', list.length), () => { store([...all.value, ...list]); void sendAll(); });
}

/* FALSE: no answer, not paired, another book, or trouble of the server's own; none of it is a no to this record. */
async function sendOne(one: Waiting): Promise<boolean> {
  const meant = one.identity ?? '';
  try {
    await (one.kind === 'note' ? api.noteAdd(one.record, meant) : api.buildRecord(one.kind, one.record, meant));
    replace(one, []);
  } catch (problem) {
    if (!(problem instanceof Refusal) || problem.status === 0 || problem.status === 401 || problem.status === 412 || problem.status === 429 || problem.status >= 500) return false;
    replace(one, [{ ...one, why: problem.message, asks: problem.status === 422 }]);
  }
  changes.value++;
  return true;
}

export async function sendAll() {
  if (sending) return;
  sending = true;
  try {
    const next = () => all.value.find((w) => !w.why);
    if (!next()) return;
    const here = await api.book().catch(() => null); /* what is open now, and not what was when the page was loaded */
    if (!here) return;
    for (let one = all.value.find((w) => !w.why && isOf(w, here)); one && await sendOne(one); one = all.value.find((w) => !w.why && isOf(w, here)));
  } finally { sending = false; }
}
setInterval(() => { if (waiting.value.length > 0) void sendAll(); }, 3000);
addEventListener('online', () => { void sendAll(); });
connected.subscribe((on) => { if (on && all.value.length > 0) void sendAll(); });
