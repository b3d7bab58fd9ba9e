/* The page: one bar, one screen, one line that says what happened. Nothing pops up. */
import { Fragment, render } from 'preact';
import { book, bookProblem, connected, loadBook, openStream, route, said, setUnits, units, unpaired } from './state';
import { labels } from './labels';
import { Pair } from './devices';
import { adding, dragging, listenForDrops } from './drop';
import { keptAt, registerOffline } from './kept';
import { time } from './format';
import { unsent } from './unsent';
import { First } from './screen_first';
import { BuildScreen, LashScreen } from './screen_build';
import { DayScreen } from './screen_day';
import { PullsScreen } from './screen_pulls';
import { EngineScreen } from './screen_engine';
import { PredictScreen } from './screen_predict';
import { LiveScreen, WindowScreen } from './screen_live';
import { HandoverScreen } from './screen_handover';
import { ShopScreen } from './screen_shop';

const screens = [
  { key: 'day', label: 'Test day' },
  { key: 'live', label: 'Live' },
  { key: 'pulls', label: 'Pulls' },
  { key: 'engine', label: 'Engine' },
  { key: 'predict', label: 'Predict' },
  { key: 'build', label: 'Build' },
  { key: 'handover', label: 'Hand over' },
  { key: 'shop', label: 'Shop' },
];

function Bar() {
  return (
    <header class="bar">
      <a class="mark" href="#/day">Enginewright</a>
      <nav aria-label="Screens">
        {screens.map((s) => <a key={s.key} href={'#/' + s.key} aria-current={route.value.screen === s.key ? 'page' : undefined}>{s.label}</a>)}
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

function Said() {
  const now = said.value;
  return (
    <div class="said-place" role="status" aria-live="polite">
      {!connected.value && !unpaired.value && <p class="said grave">Not connected: what is shown {keptAt.value ? `was kept on this device at ${time(keptAt.value)} UTC` : 'may be old'}. Trying again…{unsent.value.length > 0 && ` ${unsent.value.length === 1 ? 'One file waits' : `${unsent.value.length} files wait`} on this device.`}</p>}
      {adding.value && <p class="said">{adding.value}</p>}
      {now && (
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
  if (unpaired.value) return <Pair />;
  if (bookProblem.value && !book.value) return <p class="said grave lone">{bookProblem.value}</p>;
  if (!book.value) return <p class="quiet lone">Opening the book…</p>;
  const screen = route.value.screen;
  if (book.value.pulls === 0 && (screen === 'day' || screen === 'pulls')) return <First />;
  switch (screen) {
    case 'pulls': return <PullsScreen />;
    case 'build': return <BuildScreen />;
    case 'lash': return <LashScreen />;
    case 'engine': return <EngineScreen />;
    case 'predict': return <PredictScreen />;
    case 'live': return <LiveScreen />;
    case 'window': return <WindowScreen />;
    case 'handover': return <HandoverScreen />;
    case 'shop': return <ShopScreen />;
    default: return <DayScreen />;
  }
}

function App() {
  if (route.value.screen === 'window' && book.value) return <main key={labels.value} id="main"><WindowScreen /></main>;
  return (
    <Fragment key={labels.value}>
      <a class="skip" href="#main">To the content</a>
      <Bar />
      <Said />
      <main id="main" tabIndex={-1}><Screen /></main>
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
listenForDrops();
openStream();
void loadBook();
const root = document.getElementById('page')!;
root.textContent = '';
render(<App />, root);
