/* Photos and files of a pull, a day or a build: shown when they are pictures that were checked, else handed
 * out. What the book has not got yet waits on the device (unsent.ts). */
import { useState } from 'preact/hooks';
import { api, type Attachment } from './api';
import { useAnswered } from './answered';
import { changes, complain, say } from './state';
import { keepFiles, letGo, loose, tryAgain, unsent } from './unsent';
import { date, time } from './format';
import { useDraft } from './draft';
import { Words } from './words_field';

export function useAttachments(of: string): Attachment[] {
  return useAnswered(`attachments-${of}`, () => api.attachments(of), [changes.value]) ?? [];
}

const size = (bytes: number) => bytes < 1e6 ? `${Math.ceil(bytes / 1e3)}\u202fkB` : `${(bytes / 1e6).toFixed(1)}\u202fMB`;

/* A photo that waited on a device shows when it was taken, and when the book got it when that is another minute. */
function when(a: Attachment): string {
  const taken = a.taken_at;
  if (!taken || taken.slice(0, 16) === a.at.slice(0, 16)) return time(a.at);
  return `taken ${time(taken)}, in the book ${taken.slice(0, 10) === a.at.slice(0, 10) ? '' : date(a.at) + ' '}${time(a.at)}`;
}

function One({ a }: { a: Attachment }) {
  const address = api.attachmentAddress(a.id), says = a.note ?? a.name;
  const back = () => api.detach(a.id, 'taken back').then(() => {
    say(`${a.name} is taken back; the book keeps it.`, () => { api.putBack(a.id).then(() => { changes.value++; }, complain); });
    changes.value++;
  }, complain);
  return (
    <li>
      {a.picture ? <a href={address} target="_blank" rel="noopener"><img loading="lazy" src={address} alt={says} /></a> : <a class="file" translate={false} href={address} download>{a.name}</a>}
      <span translate={false}>{a.place && a.belongs === 'build' ? <b>{a.place}: </b> : null}{says} <span class="quiet">{when(a)}, {a.who}, {size(a.bytes)}</span></span>
      <button type="button" class="plain" aria-label={`Take back: ${a.name}`} onClick={back}>Take back</button>
    </li>
  );
}

/* What waits, and what was refused, which stays until somebody decides. */
function Waiting() {
  const all = unsent.value, going = all.filter((u) => !u.why), no = all.filter((u) => u.why);
  return (
    <>
      <p role="status" class={going.length > 0 ? 'queue some' : 'queue-none'}>
        {going.length > 0 && `${going.length === 1 ? 'One file waits' : `${going.length} files wait`} ${loose.value.length > 0 ? 'in this page until the server answers: leave it open' : `on this device until the book has ${going.length === 1 ? 'it' : 'them'}`}`}
      </p>
      {no.length > 0 && <ul class="unsent">{no.map((u) => (
        <li key={u.key}>
          <span translate={false}><b translate={false}>{u.name}</b> is not in the book: {u.why}</span>
          <button type="button" class="plain" aria-label={`Try again: ${u.name}`} onClick={() => { void tryAgain(u); }}>Try again</button>
          <button type="button" class="plain" aria-label={`Let go: ${u.name}`} onClick={() => { letGo(u); }}>Let go</button>
        </li>))}</ul>}
    </>
  );
}

/* `places`: where within the owner a photo may belong; the first is the whole. */
export function Photos({ of, heading, places = [] }: { of: string; heading: string; places?: string[] }) {
  const list = useAttachments(of);
  const [note, setNote] = useDraft(`photo-${of}`, '');
  const [place, setPlace] = useState('');
  const add = (e: Event) => {
    const input = e.currentTarget as HTMLInputElement;
    void keepFiles(place ? `${of}:${place}` : of, [...input.files ?? []], note);
    input.value = '';
    setNote('');
  };
  return (
    <section class="card photos">
      <h2>{heading}</h2>
      {list.length > 0 && <ul>{list.map((a) => <One key={a.id} a={a} />)}</ul>}
      <Waiting />
      <div class="line-form">
        {places.length > 0 && <label>Of <select value={place} onChange={(e) => setPlace(e.currentTarget.value)}><option value="">the whole build</option>{places.map((p) => <option key={p}>{p}</option>)}</select></label>}
        <Words label="What it shows" value={note} most={1000} onText={setNote} />
        <label class="button pick">Photo<input type="file" accept="image/*" capture="environment" onChange={add} /></label>
        <label class="button pick">Files<input type="file" multiple onChange={add} /></label>
      </div>
    </section>
  );
}
