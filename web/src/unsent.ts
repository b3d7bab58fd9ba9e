/* Photos and files that the book has not got yet. Each is written into the browser's own database (Indexed Database API, W3C)
 * before it is sent, and let go of only when the server has said that the book has it: a closed page, a reload or an empty
 * battery loses none. The book knows the bytes, so that sending them twice adds nothing. */
import { signal } from '@preact/signals';
import { api, Refusal, type Book } from './api';
import { stamp } from './clock';
import { book, changes, complain, connected, say } from './state';
import { t } from './words';

/* `book`, its `identity` and `engine`: what was open when it was taken; "" of a page that did not know. `taken`: when, by this device's
 * clock. `why`: what the server said no to. */
export interface Unsent { key: number; to: string; book: string; identity?: string; engine: string; taken?: string; name: string; note: string; bytes: Blob; why: string }
const DATABASE = 'unsent', STORE = 'files', AGAIN_MS = 3000;

export const unsent = signal<Unsent[]>([]);
/* What this browser would not keep lives as long as the page; keys below zero. */
export const loose = signal<Unsent[]>([]);
let nextLoose = -1;
let sending = false;

let opened: Promise<IDBDatabase> | null = null;
function database(): Promise<IDBDatabase> {
  opened ??= new Promise<IDBDatabase>((resolve, reject) => {
    const request = indexedDB.open(DATABASE, 1);
    request.onupgradeneeded = () => { request.result.createObjectStore(STORE, { keyPath: 'key', autoIncrement: true }); };
    request.onsuccess = () => { request.result.onclose = () => { opened = null; }; resolve(request.result); };
    request.onerror = () => { opened = null; reject(request.error ?? new Error(t('this browser keeps nothing'))); };
  });
  return opened;
}

/* Done when it is on the disk, not when it was asked for. */
async function inStore<T>(mode: IDBTransactionMode, act: (store: IDBObjectStore) => IDBRequest<T>): Promise<T> {
  const turn = (await database()).transaction(STORE, mode, { durability: 'strict' });
  return new Promise<T>((resolve, reject) => {
    const request = act(turn.objectStore(STORE));
    turn.oncomplete = () => { resolve(request.result); };
    turn.onabort = () => { reject(turn.error ?? new Error(t('there is no room for it on this device'))); };
  });
}

async function refresh() {
  const kept = await inStore('readonly', (s) => s.getAll() as IDBRequest<Unsent[]>).catch(() => [] as Unsent[]);
  unsent.value = [...kept, ...loose.value];
}

async function forget(one: Unsent) {
  if (one.key < 0) loose.value = loose.value.filter((l) => l.key !== one.key);
  else await inStore('readwrite', (s) => s.delete(one.key));
  await refresh();
}

async function setWhy(one: Unsent, why: string) {
  const changed = { ...one, why };
  if (one.key < 0) loose.value = loose.value.map((l) => l.key === one.key ? changed : l);
  else await inStore('readwrite', (s) => s.put(changed));
  await refresh();
}

async function keep(what: Omit<Unsent, 'key'>) {
  try { await inStore('readwrite', (s) => s.add(what)); } catch { loose.value = [...loose.value, { ...what, key: nextLoose-- }]; }
  await refresh();
}

/* `files` in the order in which they were chosen. The bytes are read at once: a camera's file may be gone later. */
export async function keepFiles(to: string, files: File[], note: string) {
  const about = { to, note, book: book.value?.book ?? '', identity: book.value?.identity ?? '', engine: book.value?.engine ?? '', taken: stamp(), why: '' };
  for (const file of files) {
    try {
      await keep({ ...about, name: file.name || 'photo', bytes: new Blob([await file.arrayBuffer()]) });
    } catch (problem) {
      complain(t('{file} could not be read: {why}', { file: file.name, why: problem instanceof Error ? problem.message : String(problem) }));
    }
  }
  await sendFiles();
}

/* A file may have waited while another book was opened at this address, or another engine put in the cell; "" when it fits. */
function misplaced(one: Unsent, here: Book): string {
  if (one.identity && one.identity !== here.identity && one.book === here.book) return t('it was taken for another book named {book} than the one that is open: open that book, then try again', { book: one.book });
  if (one.book && one.book !== here.book) return t('it was taken for the book {book}, but {here} is open: open that book, then try again', { book: one.book, here: here.book });
  if (one.engine && /^build\b/.test(one.to) && one.engine !== here.engine)
    return t('it was taken for the build of {engine}, but {here} is in the cell: put {engine} in the cell, then try again', { engine: one.engine, here: here.engine ?? t('no engine') });
  return '';
}

/* No answer, not paired, too many at once, or trouble of the server's own: none of it is a no to this file. */
const later = (problem: unknown) => problem instanceof Refusal && (problem.status === 0 || problem.status === 401 || problem.status === 408 || problem.status === 429 || problem.status >= 500);

async function sendOne(one: Unsent, here: Book) {
  const why = misplaced(one, here);
  if (why) return setWhy(one, why);
  try {
    const about = { ...(one.note ? { note: one.note } : {}), ...(one.taken ? { taken_at: one.taken } : {}), ...(one.identity ? { book: one.identity } : {}) };
    const { id } = await api.attach(one.to, new File([one.bytes], one.name), about);
    await forget(one);
    say(t('{file} is in the book.', { file: one.name }), () => { api.detach(id, t('taken back')).then(() => { changes.value++; }, complain); });
    changes.value++;
  } catch (problem) {
    if (later(problem) || !(problem instanceof Refusal)) throw problem;
    await setWhy(one, problem.message.replace(`${one.name}: `, ''));
  }
}

async function sendWaiting() {
  await refresh();
  const next = () => unsent.value.find((one) => !one.why);
  if (!next()) return;
  const here = await api.book();
  for (let one = next(); one; one = next()) await sendOne(one, here);
}

/* Of several pages on one device one sends; where the browser has no locks (no TLS), the book's knowing the bytes has to do. */
const alone = (act: () => Promise<void>) => 'locks' in navigator
  ? navigator.locks.request('unsent-files', { ifAvailable: true }, (lock) => lock ? act() : refresh()) : act();

export async function sendFiles() {
  if (sending) return;
  sending = true;
  try { await alone(sendWaiting); } catch (problem) { if (!later(problem)) complain(problem); } finally { sending = false; }
}

export const tryAgain = (one: Unsent) => setWhy(one, '').then(sendFiles).catch(complain);
export function letGo(one: Unsent) {
  const { key: _key, ...what } = one;
  forget(one).then(() => { say(t('{file} was let go.', { file: one.name }), () => { void keep(what); }); }, complain);
}

setInterval(() => { if (unsent.value.length > 0) void sendFiles(); }, AGAIN_MS);
connected.subscribe((on) => { if (on) void sendFiles(); });
addEventListener('beforeunload', (e) => { if (loose.value.length > 0) e.preventDefault(); });
