/* The page: one bar, one screen, one line that says what happened. Nothing pops up. */
import { Fragment, render } from 'preact';
import { book, bookProblem, connected, loadBook, openStream, route, said, setUnits, units, unpaired } from './state';
import { labels } from './labels';
import { AlarmBar } from './alarm_bar';
import { entries } from './alarm_list';
import { Door, enter } from './door';
import { Keys } from './keys';
import { fetchAhead, Later, Soon } from './later';
import { adding, Answers, dragging, listenForDrops, listenForPaste } from './drop';
import { keptAt, registerOffline } from './kept';
import { date, time } from './format';
import { elsewhere, letGo } from './queue';
import { unsent } from './unsent';
import { t, tn, loadWords } from './words';
import './press';
import { DayScreen } from './screen_day';
import { PullsScreen } from './screen_pulls';
import { LiveScreen, WindowScreen } from './screen_live';

const screens = [
  { key: 'day', label: 'Test day' },
  { key: 'live', label: 'Live' },
  { key: 'pulls', label: 'Pulls' },
  { key: 'engine', label: 'Engine' },
  { key: 'predict', label: 'Predict' },
  { key: 'search', label: 'Search' },
  { key: 'build', label: 'Build' },
  { key: 'handover', label: 'Hand over' },
  { key: 'shop', label: 'Shop' },
];

/* Screens that are reached from another: where they belong in the bar. */
const partOf: Record<string, string> = { lash: 'build', calibrate: 'shop', jobs: 'shop' };

function Bar() {
  return (
    <header class="bar">
      <a class="mark" href="#/day">Enginewright</a>
      <nav aria-label="Screens">
        {screens.map((s) => <a key={s.key} href={'#/' + s.key} aria-current={route.value.screen === s.key ? 'page' : partOf[route.value.screen] === s.key ? 'true' : undefined}>{s.label}</a>)}
      </nav>
      <span class="bar-end">
        <span class="quiet book-name" translate={false} title="the book">{book.value?.book}</span>
        <span class="switch" role="group" aria-label="Units">
          <button type="button" aria-pressed={units.value === 'si'} onClick={() => setUnits('si')}>SI</button>
          <button type="button" aria-pressed={units.value === 'us'} onClick={() => setUnits('us')}>US</button>
        </span>
      </span>
    </header>
  );
}

/* Old figures say that they are old, how old, and whose. */
function whatIsShown(at: string | null): string {
  if (!at) return t('Not connected: what is shown may be old. Trying again…');
  const today = new Date().toISOString().slice(0, 10), here = book.value, shop = here?.settings['shop'];
  return t('Not connected: what is shown was kept on this device at {time} UTC, from the book {book}. Trying again…',
    { time: at.slice(0, 10) === today ? time(at) : `${date(at)} ${time(at)}`, book: (here?.book ?? '') + (shop ? ` (${shop})` : '') });
}

/* Entries of another book than the one at this address: they wait, and nothing sends them here. */
function Elsewhere() {
  const list = elsewhere.value;
  if (list.length === 0) return null;
  const names = [...new Set(list.map((w) => w.book ?? t('another book')))], here = book.value;
  const values = { books: names.join(', '), here: here?.book ?? t('none') };
  return (
    <p class="said grave">
      <span translate={false}>{here && names.includes(here.book)
        ? tn('One entry on this device belongs to another book named {books} than the one open here. Open that book and the entry goes into it.', '{n} entries on this device belong to another book named {books} than the one open here. Open that book and they go into it.', list.length, values)
        : tn('One entry on this device belongs to the book {books}; {here} is open here. Open that book and the entry goes into it.', '{n} entries on this device belong to the book {books}; {here} is open here. Open that book and they go into it.', list.length, values)}</span>
      <button type="button" class="plain" onClick={() => { letGo(list); }}>Let go</button>
    </p>
  );
}

function Said() {
  const now = said.value;
  return (
    <div class="said-place" role="status" aria-live="polite">
      {!connected.value && !unpaired.value && <p class="said grave"><span translate={false}>{whatIsShown(keptAt.value)}{unsent.value.length > 0 && ' ' + tn('One file is waiting on this device.', '{n} files are waiting on this device.', unsent.value.length)}</span></p>}
      {!unpaired.value && <Elsewhere />}
      {!unpaired.value && <Soon part={(m) => m.StoreLine} />}
      {adding.value && <p class="said">{adding.value}</p>}
      <Answers />
      {now && !(now.reading && !connected.value) && (
        <p class={'said' + (now.grave ? ' grave' : '')}>
          <span>{now.text}</span>
          {now.undo && <button type="button" onClick={() => { now.undo?.(); said.value = null; }}>Take back</button>}
          <button type="button" class="plain" onClick={() => { said.value = null; }}>Dismiss</button>
        </p>
      )}
    </div>
  );
}

function Screen() {
  if (unpaired.value) return <Door />;
  if (bookProblem.value && !book.value) return <p class="said grave lone">{bookProblem.value}</p>;
  if (!book.value) return <p class="quiet lone">Opening the book…</p>;
  const screen = route.value.screen;
  if (book.value.pulls === 0 && (screen === 'day' || screen === 'pulls')) return <Later part={(m) => m.First} given={{}} />;
  switch (screen) {
    case 'pulls': return <PullsScreen />;
    case 'live': return <LiveScreen />;
    case 'window': return <WindowScreen />;
    case 'build': return <Later part={(m) => m.BuildScreen} given={{}} />;
    case 'lash': return <Later part={(m) => m.LashScreen} given={{}} />;
    case 'engine': return <Later part={(m) => m.EngineScreen} given={{}} />;
    case 'predict': return <Later part={(m) => m.PredictScreen} given={{}} />;
    case 'search': return <Later part={(m) => m.SearchScreen} given={{}} />;
    case 'handover': return <Later part={(m) => m.HandoverScreen} given={{}} />;
    case 'calibrate': return <Later part={(m) => m.CalibrateScreen} given={{}} />;
    case 'jobs': return <Later part={(m) => m.JobsScreen} given={{}} />;
    case 'shop': return <Later part={(m) => m.ShopScreen} given={{}} />;
    default: return <DayScreen />;
  }
}

/* The address says which screen it is: a link within the page must not change it. */
function toContent(e: Event) {
  e.preventDefault();
  document.getElementById('main')?.focus();
}

/* What stands at the top takes its height from what fills a screen below it. */
const fits = new ResizeObserver(([one]) => { document.documentElement.style.setProperty('--top', `${one!.target.clientHeight}px`); });
const measured = (e: HTMLElement | null) => { if (e) fits.observe(e); };

function App() {
  if (route.value.screen === 'window' && book.value) return <main key={labels.value} id="main"><div class={'top' + (entries.value.length ? ' stuck' : '')}><AlarmBar bare /></div><WindowScreen /></main>;
  return (
    <Fragment key={labels.value}>
      <a class="skip" href="#main" onClick={toContent}>To the content</a>
      <Bar />
      <div ref={measured} class={'top' + (entries.value.length || keptAt.value ? ' stuck' : '')}><AlarmBar /><Said /></div>
      <main id="main" tabIndex={-1} class={keptAt.value ? 'old' : ''}><Screen /></main>
      <Keys />
      {dragging.value && <div class="dropping" aria-hidden="true"><p>Let go: the files go into the book as they are</p></div>}
    </Fragment>
  );
}

registerOffline();
/* A browser leaves as it is what already stands half in sight in a wide table: what has the focus is shown whole. */
addEventListener('focusin', (e) => {
  const now = e.target;
  if (now instanceof HTMLElement && now.parentElement?.closest('.scroll') && now.matches(':focus-visible')) now.scrollIntoView({ block: 'nearest', inline: 'nearest' });
});
/* A key that is held down is one press: of Enter on a button or in a form, which a browser would send again and again. */
addEventListener('keydown', (e) => { if (e.key === 'Enter' && e.repeat && !(e.target instanceof HTMLTextAreaElement && e.shiftKey)) { e.preventDefault(); e.stopImmediatePropagation(); } }, true);
/* A form that is sent again before anything was done between is the second tap of one press. What is typed anywhere, or another form that is
 * sent, makes it a press of its own: what was refused before a quote was signed may be sent the moment it is. */
const BOUNCE_MS = 600;
let sent: { form: EventTarget; at_ms: number } | null = null;
addEventListener('input', () => { sent = null; }, true);
addEventListener('submit', (e) => {
  const form = e.target!, now = performance.now();
  if (sent?.form === form && now - sent.at_ms < BOUNCE_MS) { e.preventDefault(); e.stopImmediatePropagation(); } else sent = { form, at_ms: now };
}, true);
listenForDrops();
listenForPaste();
/* The link that `serve` printed, opened here or typed into a page that is open already. */
const keyOfRoute = () => route.value.screen === 'open' ? route.value.query.get('key') : null;
addEventListener('hashchange', () => { const key = keyOfRoute(); if (key) void enter(key); });
const key = keyOfRoute();
/* Answers that come at once spare the page that waits for them. */
const SOON_MS = 50;
const soon = (what: Promise<unknown>) => Promise.race([what, new Promise((done) => { setTimeout(done, SOON_MS); })]);
void loadWords().then(() => {
  if (!key) return soon(Promise.allSettled([loadBook(), ...Object.values(window.early?.answers ?? {})]));
  void enter(key);
  return null;
}).then(() => {
  if (!key) openStream();
  const root = document.getElementById('page')!;
  root.textContent = '';
  render(<App />, root);
  fetchAhead();
});
