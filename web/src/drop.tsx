/* Files dropped anywhere: into the book as they came, and two of them are compared at once. */
import { signal } from '@preact/signals';
import { api, isGone, type Added } from './api';
import { changes, complain, go, loadBook, say } from './state';
import { t, tn } from './words';

export const dragging = signal(false);
export const adding = signal<string | null>(null);

const byName = new Intl.Collator('en', { numeric: true, sensitivity: 'base' });

/* The first answer: A is the file that was written first, else the one whose name comes first. */
function inOrder(files: File[]): File[] {
  return [...files].sort((a, b) => byName.compare(a.name, b.name));
}

async function addAll(files: File[]) {
  const groups: number[][] = [];
  const notes: string[] = [];
  const fresh: number[] = [], refused: string[] = [];
  let count = 0;
  for (const file of inOrder(files)) {
    adding.value = files.length > 1 ? t('Reading {file}, {n} of {all}…', { file: file.name, n: ++count, all: files.length }) : t('Reading {file}…', { file: file.name });
    let added: Added;
    try { added = await api.add(file, {}); } catch (problem) { /* one that cannot be read is no reason to leave out the others */
      if (isGone(problem)) throw problem;
      const says = problem instanceof Error ? problem.message : String(problem);
      refused.push(says.startsWith(file.name) ? says : `${file.name}: ${says}`);
      continue;
    }
    if (added.pull_ids.length) groups.push(added.pull_ids);
    if (!added.known_before) fresh.push(...added.pull_ids);
    for (const note of added.notes) notes.push(`${file.name}: ${note.text}`);
  }
  await loadBook();
  changes.value++;
  if (groups.length === 0) {
    complain([...refused, ...notes].join(' ') || t('No pull was found in these files.'));
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

export async function takeFiles(list: FileList | File[] | null | undefined) {
  const files = [...(list ?? [])];
  if (files.length === 0 || adding.value) return;
  try { await addAll(files); } catch (problem) { complain(problem); }
  adding.value = null;
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
