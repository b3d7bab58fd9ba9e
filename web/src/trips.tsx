/* Alarms that tripped: what was found is written down here, and until then every answer is stop and look. */
import { useState } from 'preact/hooks';
import { useDraft } from './draft';
import { api, type Found, type Trip } from './api';
import { useAnswered } from './answered';
import { changes, complain, say } from './state';
import { date, time } from './format';
import { t } from './words';

/* Who looked is the same person most of the day. */
let who = '';

function FoundForm({ of, id, asks, placeholder }: { of: 'trip' | 'pull'; id: number; asks: string; placeholder: string }) {
  const [text, setText] = useDraft(`found-${of}-${id}`, ''), [name, setName] = useState(who);
  const keep = (e: Event) => {
    e.preventDefault();
    who = name.trim();
    api.found(of, [id], text.trim(), who).then(() => { setText(''); changes.value++; say(t('Written down; it stays in the book.')); }, complain);
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
  const [why, setWhy] = useDraft(`found-back-${of}-${id}`, ''), [open] = useState(why !== '');
  const back = (e: Event) => { e.preventDefault(); api.foundBack(of, [id], why.trim()).then(() => { setWhy(''); changes.value++; say(t('Taken back; it stays in the book with its reason.')); }, complain); };
  return (
    <details open={open || undefined}><summary>Take back what was written</summary>
      <form class="line-form" onSubmit={back}><label>Reason <input required maxLength={400} value={why} onInput={(e) => setWhy(e.currentTarget.value)} /></label><button type="submit">Take back</button></form>
    </details>
  );
}

function One({ trip }: { trip: Trip }) {
  return (
    <li class={trip.open ? 'open' : ''}>
      <p><span class="quiet">{date(trip.at)} {time(trip.at)}</span> <span translate={false}>{trip.text}</span></p>
      {trip.open && <FoundForm of="trip" id={trip.trip} asks="What was found" placeholder="sump, filter, plugs, bearings, a wire" />}
      {trip.found && <TakeBack of="trip" id={trip.trip} />}
    </li>
  );
}

/** On the test day: trips after which nobody has written down what was found. */
export function OpenTrips() {
  const open = useAnswered('open-trips', () => api.openTrips(), [changes.value]) ?? [];
  if (open.length === 0) return null;
  return (
    <section class="card trips" aria-label="What was found">
      <h2>What was found</h2>
      <p>Until what was found is written down, no pull of this engine is judged. Look first: sump, filter, plugs, bearing noise; the engine maker's instructions come first.</p>
      <ul>{open.map((trip) => <One key={trip.trip} trip={trip} />)}</ul>
    </section>
  );
}

/** With a pull: what tripped in it, and what was seen after it. */
export function TripsOfPull({ pull }: { pull: number }) {
  const all = useAnswered(`trips-${pull}`, () => api.tripsOf(pull), [changes.value, pull]);
  if (!all) return null;
  const stands = all.seen.filter((f: Found) => f.taken_back == null);
  return (
    <section class="card trips" aria-label={t('Trips and what was seen, pull {pull}', { pull })}>
      <h2>{t('Pull {pull}: what tripped, what was seen', { pull })}</h2>
      {all.trips.length > 0 ? <ul>{all.trips.map((one) => <One key={one.trip} trip={one} />)}</ul> : <p class="quiet">Nothing tripped in this pull.</p>}
      {all.trips.some((one) => one.action !== 'notice') && <p class="quiet">A pull that tripped proves nothing: it is left out of reports, history and comparisons unless it is asked for by number.</p>}
      {stands.length > 0 && <ul>{stands.map((f) => <li key={f.at}><p><span class="quiet">{date(f.at)} {time(f.at)}</span> <span translate={false}>{f.text} ({f.who})</span></p></li>)}</ul>}
      {stands.length > 0 && <TakeBack of="pull" id={pull} />}
      <FoundForm of="pull" id={pull} asks="Seen after it" placeholder="specks on plug 4: it ends sweeps and the next limit" />
    </section>
  );
}
