/* The strip above every screen: what stands, since when, and how to silence or clear it. A reader of the screen is told once of
 * each, not every second. The customer's window says the level and no figure. */
import { effect } from '@preact/signals';
import { api } from './api';
import { disagreement, clockAndAgo } from './clock';
import { entries, noted, type Entry } from './alarm_list';
import { isSilenced, level, silence, sound, wake } from './sound';
import { changed } from './draft';
import { complain, route } from './state';
import { words } from './format';
import { t, inWords } from './words';

/* A row that has just moved, or come between others, lies under a finger that was meant for another: for MOVED_MS its buttons do nothing. */
const MOVED_MS = 700;
let rows: string[] = [];
const moved_ms = new Map<string, number>();
effect(() => {
  const next = entries.value.map((e) => e.key), now = performance.now();
  next.forEach((key, i) => { if (rows.length > 0 && rows[i] !== key) moved_ms.set(key, now); });
  for (const key of rows) if (!next.includes(key)) moved_ms.delete(key);
  rows = next;
});
const still = (e: Entry, act: () => void) => () => { if (performance.now() - (moved_ms.get(e.key) ?? -Infinity) > MOVED_MS) act(); };

const LEVELS = ['', 'notice', 'back-off', 'shut-down'];

function One({ e, bare }: { e: Entry; bare: boolean }) {
  const clear = () => { api.liveControl('clear ' + e.clears).catch(complain); };
  return (
    <div class={'alarm ' + (LEVELS[e.level] || 'seen')} data-alarm={e.name}>
      <span>{bare ? t('{action} in the cell', { action: inWords(e.action).toUpperCase() }) : words(e.text)} {e.at && <span class="alarm-when">{clockAndAgo(e.at)}</span>}{isSilenced(e.key) && <span class="alarm-when"> Silenced on this device; it still stands.</span>}</span>
      <span class="alarm-does">
        {e.level > 0 && !isSilenced(e.key) && <button type="button" aria-label={t('Silence on this device: {alarm}', { alarm: inWords(e.name) })} onClick={still(e, () => { silence(e.key); })}>Silence</button>}
        {!bare && e.clears && <button type="button" aria-label={t('Clear: {alarm}', { alarm: inWords(e.name) })} onClick={still(e, clear)}>Clear</button>}
        {!bare && e.notes && <button type="button" aria-label={t('Noted: {alarm}', { alarm: inWords(e.name) })} onClick={still(e, () => { noted(e.notes!); })}>Noted</button>}
      </span>
    </div>
  );
}

export function AlarmBar({ bare = false }: { bare?: boolean }) {
  const all = entries.value, clearable = all.filter((e) => e.clears);
  return (<>
    <div class="unseen" role="alert">{all.map((e) => <p key={e.key}>{bare ? e.action : words(e.text)}</p>)}</div>
    {all.length > 0 && (
      <section class="alarms" aria-label="Alarms">
        {level.value > 0 && sound.value !== 'on' && <p class="alarm-sound">{sound.value === 'none' ? 'This browser has no sound.' : <button type="button" onClick={wake}>NO SOUND yet: touch here</button>}</p>}
        {all.map((e) => <One key={e.key} e={e} bare={bare} />)}
        {!bare && clearable.length > 1 && <p class="tools alarm-all"><button type="button" onClick={() => { api.liveControl('clear all').catch(complain); }}>Clear all</button></p>}
      </section>
    )}
    {!bare && disagreement.value && <p class="said grave clocks">{disagreement.value}</p>}
  </>);
}

const titles: Record<string, { label: string }> = {
  day: { label: 'Test day' }, live: { label: 'Live' }, pulls: { label: 'Pulls' }, engine: { label: 'Engine' }, predict: { label: 'Predict' },
  build: { label: 'Build' }, lash: { label: 'Lash' }, handover: { label: 'Hand over' }, shop: { label: 'Shop' }, window: { label: 'The window' },
};
/* The tab says the gravest of what stands, then what is not kept yet. */
effect(() => {
  const [first] = entries.value, more = entries.value.length - 1;
  const screen = inWords((titles[route.value.screen] ?? titles['day']!).label), action = first ? inWords(first.action).toUpperCase() : '';
  const gravest = first ? first.name !== first.action ? `${action}: ${inWords(first.name)}` : action : '';
  document.title = (first ? `! ${more > 0 ? t('{alarm} and {n} more', { alarm: gravest, n: more }) : gravest} · ` : '') + (changed.value.length ? '* ' : '') + `${screen} · Enginewright`;
});
