/* Files dropped anywhere: into the book as they came, and two of them are compared at once. */
import { signal } from '@preact/signals';
import { api, isGone, type Added } from './api';
import { changes, complain, go, loadBook, say } from './state';
import { t, tn } from './words';

export const dragging = signal(false);
export const adding = signal<string | null>(null);
/* Files of a recorder that is not known, which the card offers to keep. */
export const offered = signal<{ recording: number; file: string }[]>([]);

const byName = new Intl.Collator('en', { numeric: true, sensitivity: 'base' });

/* The first answer: A is the file that was written first, else the one whose name comes first. */
function inOrder(files: File[]): File[] {
  return [...files].sort((a, b) => byName.compare(a.name, b.name));
}

/* Each file's own answer, until it is dismissed: one line of many files cannot say what became of each. */
export interface FileAnswer { name: string; text: string; grave: boolean; pulls: number[] }
export const answers = signal<FileAnswer[]>([]);
const ANSWERS_MOST = 200;
const noteAnswer = (one: FileAnswer) => { answers.value = [...answers.value.slice(1 - ANSWERS_MOST), one]; };

/* One file into the book. A connection that is gone ends all of it; a file that cannot be read ends itself. */
async function addOne(file: File): Promise<{ added: Added | null; why: string }> {
  let added: Added;
  try { added = await api.add(file, file.lastModified > 0 ? { written_at: new Date(file.lastModified).toISOString() } : {}); } catch (problem) {
    if (isGone(problem)) throw problem;
    const says = problem instanceof Error ? problem.message : String(problem), why = says.startsWith(file.name) ? says : `${file.name}: ${says}`;
    noteAnswer({ name: file.name, text: says, grave: true, pulls: [] });
    return { added: null, why };
  }
  if (!added.known_before && added.notes.some((note) => note.id === 'desk.recorder-unknown')) offered.value = [...offered.value, { recording: added.recording_id, file: file.name }];
  const what = added.pull_ids.length ? tn('{n} pull: {pulls}', '{n} pulls: {pulls}', added.pull_ids.length, { pulls: added.pull_ids.join(', ') }) : t('no pull in it');
  noteAnswer({ name: file.name, text: [added.known_before ? t('known before, not added again') : what, ...added.notes.filter((n) => n.id !== 'desk.recorder-unknown').map((n) => n.text)].join('. '), grave: false, pulls: added.pull_ids });
  return { added, why: '' };
}

interface Got { groups: number[][]; fresh: number[]; notes: string[]; refused: string[]; files: File[]; weather: boolean }
function tellAll(got: Got) {
  const { groups, fresh, notes, refused, files } = got;
  if (groups.length === 0) {
    (got.weather && refused.length === 0 ? say : complain)([...refused, ...notes].join(' ') || t('No pull was found in these files.'));
    return;
  }
  const takeBack = fresh.length === 0 ? undefined : () => {
    void Promise.all(fresh.map((id) => api.discard(id, t('dropped by mistake')))).then(() => { say(t('Taken back: they stay in the book as discarded.')); }, complain);
  };
  const found = groups.flat().length, read = files.length - refused.length;
  const from = files.length === 1 ? files[0]!.name : read === files.length ? tn('{n} file', '{n} files', read) : t('{n} of {all} files', { n: read, all: files.length });
  say([tn('One pull from {files}.', '{n} pulls from {files}.', found, { files: from }), ...refused.map((why) => t('NOT READ: {why}.', { why })), ...notes].join(' '), takeBack);
  if (groups.length === 1) go('pulls', { a: groups[0]!.join(',') });
  else go('pulls', { a: groups[0]!.join(','), b: groups.slice(1).flat().join(','), keep: '1' });
}

/* Files that come while others are read wait their turn.
 *
 *   IDLE --files--> READING --the last one read--> told, IDLE
 *                   READING --more files--> READING, they wait */
const waiting: File[] = [];
async function addAll() {
  const got: Got = { groups: [], fresh: [], notes: [], refused: [], files: [], weather: false };
  answers.value = [];
  for (let file = waiting.shift(); file; file = waiting.shift()) {
    got.files.push(file);
    const all = got.files.length + waiting.length;
    adding.value = all > 1 ? t('Reading {file}, {n} of {all}…', { file: file.name, n: got.files.length, all }) : t('Reading {file}…', { file: file.name });
    const { added, why } = await addOne(file);
    if (!added) { got.refused.push(why); continue; }
    const known = got.groups.flat(); /* the same file twice is one side, and nothing to compare */
    if (added.pull_ids.some((id) => !known.includes(id))) got.groups.push(added.pull_ids.filter((id) => !known.includes(id)));
    got.weather ||= added.notes.some((note) => note.id === 'desk.station-added');
    if (!added.known_before) got.fresh.push(...added.pull_ids);
    for (const note of added.notes) if (note.id !== 'desk.recorder-unknown') got.notes.push(`${file.name}: ${note.text}`);
  }
  await loadBook();
  changes.value++;
  tellAll(got);
}

export async function takeFiles(list: FileList | File[] | null | undefined) {
  waiting.push(...inOrder([...(list ?? [])]));
  if (waiting.length === 0 || adding.value) return;
  try { await addAll(); } catch (problem) { waiting.length = 0; complain(problem); }
  adding.value = null;
}

/* Of one file the line above says all there is; of several, each has its own. */
export function Answers() {
  const list = answers.value;
  if (list.length < 2 || adding.value) return null;
  const wrong = list.filter((a) => a.grave).length;
  return (
    <details class="answers"><summary>{wrong ? tn('{n} file, {wrong} not read', '{n} files, {wrong} not read', list.length, { wrong }) : tn('{n} file, each one’s answer', '{n} files, each one’s answer', list.length)}</summary>
      <ul>{list.map((a, i) => <li key={i} class={a.grave ? 'grave' : ''}><b translate={false}>{a.name}</b> <span translate={false}>{a.text}</span>{a.pulls.length > 0 && <a href={`#/pulls?a=${a.pulls.join(',')}`}>{t('look')}</a>}</li>)}</ul>
      <button type="button" class="plain" onClick={() => { answers.value = []; }}>Dismiss</button>
    </details>
  );
}

export function listenForDrops() {
  let depth = 0;
  const carriesFiles = (e: DragEvent) => e.dataTransfer?.types.includes('Files') ?? false;
  addEventListener('dragenter', (e) => { if (carriesFiles(e)) { depth++; dragging.value = true; e.preventDefault(); } });
  addEventListener('dragover', (e) => { if (carriesFiles(e)) e.preventDefault(); });
  addEventListener('dragleave', () => { depth = Math.max(0, depth - 1); dragging.value = depth > 0; });
  addEventListener('drop', (e) => { depth = 0; dragging.value = false; if (carriesFiles(e)) { e.preventDefault(); void takeFiles(e.dataTransfer?.files); } });
}

/* Files that were copied elsewhere and are pasted here; text pasted into a field is left alone. */
export function listenForPaste() {
  addEventListener('paste', (e) => { const files = e.clipboardData?.files; if (files && files.length > 0) { e.preventDefault(); void takeFiles(files); } });
}

export function ChooseFiles({ label }: { label: string }) {
  return (
    <label class="button">
      {label}
      <input class="unseen" type="file" multiple onChange={(e) => { void takeFiles(e.currentTarget.files); e.currentTarget.value = ''; }} />
    </label>
  );
}
