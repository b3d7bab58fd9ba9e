/* Photos and files of a pull, a day or a build: shown when they are pictures that were checked, else handed
 * out. What could not be sent waits in this page and is tried again; the book knows the bytes, so twice
 * adds nothing. */
import { signal } from '@preact/signals';
import { useEffect, useState } from 'preact/hooks';
import { api, Refusal, type Attachment } from './api';
import { changes, complain, connected, say } from './state';
import { time } from './format';

interface Unsent { to: string; file: File; note: string }
const unsent = signal<Unsent[]>([]);
let sending = false;

async function sendFiles() {
  if (sending) return;
  sending = true;
  try {
    while (unsent.value.length > 0) {
      const first = unsent.value[0]!;
      try {
        const { id } = await api.attach(first.to, first.file, first.note);
        say(`${first.file.name} is in the book.`, () => { api.detach(id, 'taken back').then(() => { changes.value++; }, complain); });
      } catch (problem) {
        if (problem instanceof Refusal && (problem.status === 0 || problem.status >= 500)) return;
        complain(problem);
      }
      unsent.value = unsent.value.slice(1);
      changes.value++;
    }
  } finally { sending = false; }
}
setInterval(() => { if (unsent.value.length > 0) void sendFiles(); }, 3000);
connected.subscribe((on) => { if (on && unsent.value.length > 0) void sendFiles(); });
addEventListener('beforeunload', (e) => { if (unsent.value.length > 0) e.preventDefault(); });

export function useAttachments(of: string): Attachment[] {
  const [list, setList] = useState<Attachment[]>([]);
  const version = changes.value;
  useEffect(() => {
    let gone = false;
    api.attachments(of).then((l) => { if (!gone) setList(l); }, complain);
    return () => { gone = true; };
  }, [of, version]);
  return list;
}

const size = (bytes: number) => bytes < 1e6 ? `${Math.ceil(bytes / 1e3)}\u202fkB` : `${(bytes / 1e6).toFixed(1)}\u202fMB`;

function One({ a }: { a: Attachment }) {
  const address = api.attachmentAddress(a.id), says = a.note ?? a.name;
  const back = () => api.detach(a.id, 'taken back').then(() => {
    say(`${a.name} is taken back; the book keeps it.`, () => { api.putBack(a.id).then(() => { changes.value++; }, complain); });
    changes.value++;
  }, complain);
  return (
    <li>
      {a.picture ? <a href={address} target="_blank" rel="noopener"><img loading="lazy" src={address} alt={says} /></a> : <a class="file" translate={false} href={address} download>{a.name}</a>}
      <span translate={false}>{a.place && a.belongs === 'build' ? <b>{a.place}: </b> : null}{says} <span class="quiet">{time(a.at)}, {a.who}, {size(a.bytes)}</span></span>
      <button type="button" class="plain" aria-label={`Take back: ${a.name}`} onClick={back}>Take back</button>
    </li>
  );
}

/* `places`: where within the owner a photo may belong; the first is the whole. */
export function Photos({ of, heading, places = [] }: { of: string; heading: string; places?: string[] }) {
  const list = useAttachments(of);
  const [note, setNote] = useState('');
  const [place, setPlace] = useState('');
  const add = (e: Event) => {
    const input = e.currentTarget as HTMLInputElement;
    unsent.value = [...unsent.value, ...[...input.files ?? []].map((file) => ({ to: place ? `${of}:${place}` : of, file, note }))];
    input.value = '';
    setNote('');
    void sendFiles();
  };
  return (
    <section class="card photos">
      <h2>{heading}</h2>
      {list.length > 0 && <ul>{list.map((a) => <One key={a.id} a={a} />)}</ul>}
      {unsent.value.length > 0 && <p class="queue some" role="status">{unsent.value.length === 1 ? 'One file waits' : `${unsent.value.length} files wait`} in this page until the server answers: leave it open</p>}
      <div class="line-form">
        {places.length > 0 && <label>Of <select value={place} onChange={(e) => setPlace(e.currentTarget.value)}><option value="">the whole build</option>{places.map((p) => <option key={p}>{p}</option>)}</select></label>}
        <label>What it shows <input value={note} maxLength={300} onInput={(e) => setNote(e.currentTarget.value)} /></label>
        <label class="button pick">Photo<input type="file" accept="image/*" capture="environment" onChange={add} /></label>
        <label class="button pick">Files<input type="file" multiple onChange={add} /></label>
      </div>
    </section>
  );
}
