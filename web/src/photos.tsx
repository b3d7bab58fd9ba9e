/* Photos and files of a pull, a day or a build: shown when they are pictures that were checked, else handed
 * out. What the book has not got yet waits on the device (unsent.ts). */
import { useState } from 'preact/hooks';
import { api, type Attachment } from './api';
import { useAnswered } from './answered';
import { changes, complain, say } from './state';
import { keepFiles, letGo, loose, tryAgain, unsent } from './unsent';
import { date, fixed, time } from './format';
import { useDraft } from './draft';
import { Words } from './words_field';
import { t, tn } from './words';

export function useAttachments(of: string): Attachment[] {
  return useAnswered(`attachments-${of}`, () => api.attachments(of), [changes.value]) ?? [];
}

const size = (bytes: number) => bytes < 1e6 ? `${Math.ceil(bytes / 1e3)}\u202fkB` : `${fixed(bytes / 1e6, 1)}\u202fMB`;

/* A photo that waited on a device shows when it was taken, and when the book got it when that is another minute. */
function when(a: Attachment): string {
  const taken = a.taken_at;
  if (!taken || taken.slice(0, 16) === a.at.slice(0, 16)) return time(a.at);
  return t('taken {taken}, in the book {added}', { taken: time(taken), added: (taken.slice(0, 10) === a.at.slice(0, 10) ? '' : date(a.at) + ' ') + time(a.at) });
}

function One({ a }: { a: Attachment }) {
  const address = api.attachmentAddress(a.id), says = a.note ?? a.name;
  const back = () => api.detach(a.id, t('taken back')).then(() => {
    say(t('{what} is taken back; the book keeps it.', { what: a.name }), () => { api.putBack(a.id).then(() => { changes.value++; }, complain); });
    changes.value++;
  }, complain);
  return (
    <li>
      {a.picture ? <a href={address} target="_blank" rel="noopener"><img loading="lazy" src={address} alt={says} /></a> : <a class="file" translate={false} href={address} download>{a.name}</a>}
      <span translate={false}>{a.place && a.belongs === 'build' ? <b>{a.place}: </b> : null}{says} <span class="quiet">{when(a)}, {a.who}, {size(a.bytes)}</span></span>
      <button type="button" class="plain" aria-label={t('Take back: {what}', { what: a.name })} onClick={back}>Take back</button>
    </li>
  );
}

/* What waits, and what was refused, which stays until somebody decides. */
function Waiting() {
  const all = unsent.value, going = all.filter((u) => !u.why), no = all.filter((u) => u.why);
  return (
    <>
      <p role="status" class={going.length > 0 ? 'queue some' : 'queue-none'}>
        {going.length > 0 && (loose.value.length > 0
          ? tn('One file is waiting in this page until the server answers: leave the page open', '{n} files are waiting in this page until the server answers: leave the page open', going.length)
          : tn('One file is waiting on this device until the book has it', '{n} files are waiting on this device until the book has them', going.length))}
      </p>
      {no.length > 0 && <ul class="unsent">{no.map((u) => (
        <li key={u.key}>
          <span translate={false}>{t('{what} is not in the book: {why}', { what: u.name, why: u.why })}</span>
          <button type="button" class="plain" aria-label={t('Try again: {what}', { what: u.name })} onClick={() => { void tryAgain(u); }}>Try again</button>
          <button type="button" class="plain" aria-label={t('Let go: {what}', { what: u.name })} onClick={() => { letGo(u); }}>Let go</button>
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
