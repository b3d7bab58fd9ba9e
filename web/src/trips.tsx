/* Alarms that tripped: what was found is written down here, and until then every answer is stop and look. */
import { useState } from 'preact/hooks';
import { api, type Found, type Trip } from './api';
import { useAnswered } from './answered';
import { changes, complain, say } from './state';
import { date, time } from './format';

/* Who looked is the same person most of the day. */
let who = '';

function FoundForm({ of, id, asks, placeholder }: { of: 'trip' | 'pull'; id: number; asks: string; placeholder: string }) {
  const [text, setText] = useState(''), [name, setName] = useState(who);
  const keep = (e: Event) => {
    e.preventDefault();
    who = name.trim();
    api.found(of, [id], text.trim(), who).then(() => { setText(''); changes.value++; say('Written down; it stays in the book.'); }, complain);
  };
  return (
    <form class="line-form" onSubmit={keep}>
      <label>{asks} <input required maxLength={1000} value={text} placeholder={placeholder} onInput={(e) => setText(e.currentTarget.value)} /></label>
      <label>By <input maxLength={60} value={name} placeholder="who looked" onInput={(e) => setName(e.currentTarget.value)} /></label>
      <button type="submit">Write down</button>
    </form>
  );
}

function TakeBack({ of, id }: { of: 'trip' | 'pull'; id: number }) {
  const [why, setWhy] = useState('');
  const back = (e: Event) => { e.preventDefault(); api.foundBack(of, [id], why.trim()).then(() => { changes.value++; say('Taken back; it stays in the book with its reason.'); }, complain); };
  return (
    <details><summary>Take back what was written</summary>
      <form class="line-form" onSubmit={back}><label>because <input required maxLength={400} value={why} onInput={(e) => setWhy(e.currentTarget.value)} /></label><button type="submit">Take back</button></form>
    </details>
  );
}

function One({ t }: { t: Trip }) {
  return (
    <li class={t.open ? 'open' : ''}>
      <p><span class="quiet">{date(t.at)} {time(t.at)}</span> <span translate={false}>{t.text}</span></p>
      {t.open && <FoundForm of="trip" id={t.trip} asks="What was found" placeholder="sump, filter, plugs, bearings, a wire" />}
      {t.found && <TakeBack of="trip" id={t.trip} />}
    </li>
  );
}

/** On the test day: trips after which nobody has written down what was found. */
export function OpenTrips() {
  const open = useAnswered('open-trips', () => api.openTrips(), [changes.value]) ?? [];
  if (open.length === 0) return null;
  return (
    <section class="card trips" aria-label="Stop and look">
      <h2>Stop and look</h2>
      <p>Until what was found is written down, no pull of this engine is judged. Look first: sump, filter, plugs, bearing noise; the engine maker's instructions come first.</p>
      <ul>{open.map((t) => <One key={t.trip} t={t} />)}</ul>
    </section>
  );
}

/** With a pull: what tripped in it, and what was seen after it. */
export function TripsOfPull({ pull }: { pull: number }) {
  const all = useAnswered(`trips-${pull}`, () => api.tripsOf(pull), [changes.value, pull]);
  if (!all) return null;
  const stands = all.seen.filter((f: Found) => f.taken_back == null);
  return (
    <section class="card trips" aria-label={`Trips and what was seen, pull ${pull}`}>
      <h2>Pull {pull}: what tripped, what was seen</h2>
      {all.trips.length > 0 ? <ul>{all.trips.map((t) => <One key={t.trip} t={t} />)}</ul> : <p class="quiet">Nothing tripped in it.</p>}
      {all.trips.some((t) => t.action !== 'notice') && <p class="quiet">A pull that tripped proves nothing: it is left out of reports, history and comparisons unless it is asked for by number.</p>}
      {stands.length > 0 && <ul>{stands.map((f) => <li key={f.at}><p><span class="quiet">{date(f.at)} {time(f.at)}</span> <span translate={false}>{f.text} ({f.who})</span></p></li>)}</ul>}
      {stands.length > 0 && <TakeBack of="pull" id={pull} />}
      <FoundForm of="pull" id={pull} asks="Seen after it" placeholder="specks on plug 4: it ends sweeps and the next limit" />
    </section>
  );
}
