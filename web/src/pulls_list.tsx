/* The list of pulls by day: which stand before, which after; a whole day at once; arrows go from pull to pull; a pull's own number
 * opens what can be done with it. */
import { computed } from '@preact/signals';
import { useEffect, useMemo } from 'preact/hooks';
import { counts, type Pull } from './api';
import { ChooseFiles } from './drop';
import { narrow, narrowed, narrows, termsOf } from './pulls_find';
import { Find } from './pulls_filter';
import { Later } from './later';
import { useWindow } from './pulls_window';
import { date, fixed, rpm, shown, tripWords, unitOf, words } from './format';
import { go, route, say } from './state';
import { withQuery } from './pulls_seen';
import { t, inWords } from './words';

export type Side = 'a' | 'b';
export const PULLS_MOST = 40; /* what the server answers at once */

const sides = [{ key: 'a', says: 'before' }, { key: 'b', says: 'after' }] as const;
/* Whose deeds stand open, as the address says: a reload or Back loses no form that somebody is in the middle of. */
export const openedNow = computed(() => Number(route.value.query.get('open')) || 0);
const setOpened = (id: number) => { go('pulls', withQuery({ open: id ? String(id) : null }), true); };
type Item = { day: string; above: number } | { pull: Pull }; /* a day may come twice: files are added in any order */

/* Arrows between the buttons of the list: up and down the rows, left and right the sides. `toEnd`: the list is scrolled to an end first. */
function walk(event: KeyboardEvent, toEnd: (last: boolean) => void) {
  const from = (event.target as HTMLElement).closest<HTMLButtonElement>('button.side'), table = event.currentTarget as HTMLElement;
  const all = () => [...table.querySelectorAll<HTMLButtonElement>('tbody button.side:enabled')];
  const column = (button: HTMLElement) => button.dataset['side'];
  if (!from) return;
  if (event.key === 'Home' || event.key === 'End') {
    const last = event.key === 'End';
    event.preventDefault();
    toEnd(last);
    requestAnimationFrame(() => { const same = all().filter((b) => column(b) === column(from)); same[last ? same.length - 1 : 0]?.focus(); });
    return;
  }
  const same = all().filter((button) => column(button) === column(from)), other = all().filter((button) => button.closest('tr') === from.closest('tr') && button !== from);
  const next = event.key === 'ArrowUp' ? same[same.indexOf(from) - 1] : event.key === 'ArrowDown' ? same[same.indexOf(from) + 1]
    : event.key === 'ArrowLeft' || event.key === 'ArrowRight' ? other[0] : undefined;
  if (next) { next.focus(); event.preventDefault(); }
}

function Day({ day, rows, onTake }: { day: string; rows: Pull[]; onTake: (side: Side, ids: number[]) => void }) {
  const sound = rows.filter((p) => p.day === day && counts(p)).map((p) => p.id).sort((x, y) => x - y);
  const take = (side: Side) => {
    if (sound.length > PULLS_MOST) say(t('{n} pulls: the first {most} are taken. A word in the field above narrows them.', { n: sound.length, most: PULLS_MOST }));
    onTake(side, sound.slice(0, PULLS_MOST));
  };
  return (
    <tr class="day-row">
      {sides.map((s) => <td key={s.key}><button type="button" class={'side ' + s.key} data-side={s.key} disabled={sound.length === 0} title={t('All that count, {n}: {side}', { n: sound.length, side: inWords(s.says) })} aria-label={t('All that count on {day}, {n}: {side}', { day: date(day), n: sound.length, side: inWords(s.says) })} onClick={() => take(s.key)}>all</button></td>)}
      <th colSpan={4} scope="colgroup">{date(day)}</th>
    </tr>
  );
}

interface RowProps { p: Pull; at: number; a: number[]; b: number[]; open: boolean; onToggle: (side: Side, id: number) => void; onOpen: (id: number) => void }
function Row({ p, at, a, b, open, onToggle, onOpen }: RowProps) {
  return (
    <tr data-row={p.id} aria-rowindex={at + 2} class={(p.discarded ? 'discarded ' : '') + (a.includes(p.id) ? 'in-a' : b.includes(p.id) ? 'in-b' : '')}>
      {sides.map((s) => <td key={s.key}><button type="button" class={'side ' + s.key} data-side={s.key} aria-pressed={(s.key === 'a' ? a : b).includes(p.id)} aria-label={t('Pull {pull} {side}', { pull: p.id, side: inWords(s.says) })} onClick={() => onToggle(s.key, p.id)}>{s.key.toUpperCase()}</button></td>)}
      <td class="num"><button type="button" class="figure-link" aria-expanded={open} aria-label={t('Pull {pull}: amend, discard, history', { pull: p.id })} title={t('Amend, discard, history')} onClick={() => onOpen(p.id)}>{p.id}</button></td><td class="num">{rpm(p.top_speed_rpm)}</td>
      <td class="num">{p.band_mean_torque_n_m == null ? '' : fixed(shown('torque', p.band_mean_torque_n_m), 1)}</td>
      <td><div class="row-says">{p.purpose !== 'pull' && <span class="tag">{p.purpose}</span>}{p.tripped && <span class="tag tripped">{tripWords(p.tripped)}</span>}{p.held && <span class="tag tripped" title={words(p.held.text)}>held</span>}{p.reading > 1 && <span class="tag">amended</span>}{p.discarded ? <span translate={false}>{t('discarded: {why}', { why: p.discarded })}</span> : <><span translate={false}>{p.changed ?? ''}</span>{p.setup_changes.length > 0 && <span class="quiet" translate={false}> {words(p.setup_changes.map((c) => c.text).join('; '))}</span>}</>}</div></td>
    </tr>
  );
}

/* A day's heading stands above its pulls where the list goes by day. */
function itemsOf(rows: Pull[], byDay: boolean): Item[] {
  return rows.flatMap((p, i): Item[] => byDay && (i === 0 || rows[i - 1]!.day !== p.day) ? [{ day: p.day, above: p.id }, { pull: p }] : [{ pull: p }]);
}

interface ListProps { pulls: Pull[]; rest: number; a: number[]; b: number[]; onToggle: (side: Side, id: number) => void; onTake: (side: Side, ids: number[]) => void; onClear: () => void }

/* `rest`: how many older ones are still on their way. Found, and in another order, are only all: half of them in the wrong place would be taken for the answer. */
export function List({ pulls, rest, a, b, onToggle, onTake, onClear }: ListProps) {
  const opened = openedNow.value;
  const wish = narrow.value, byDay = wish.order === 'newest' || wish.order === 'oldest';
  const waits = rest > 0 && (wish.order !== 'newest' || narrows(wish) || termsOf(wish.text).length > 0);
  const rows = useMemo(() => waits ? [] : narrowed(pulls, wish), [pulls, wish, waits]), items = useMemo(() => itemsOf(rows, byDay), [rows, byDay]);
  const w = useWindow(items.length, JSON.stringify(wish)), open = pulls.find((p) => p.id === opened);
  useEffect(() => { if (opened) document.querySelector('.pull-deeds')?.scrollIntoView({ block: 'nearest' }); }, [opened]);
  return (
    <section class="list-side" aria-label="Pulls">
      <div class="tools"><Find pulls={pulls} />
        {a.length + b.length > 1 && <button type="button" onClick={onClear}>Only the last</button>}
        <ChooseFiles label="Add files" /></div>
      {rest > 0 && <p class="quiet found" role="status">{t('The newest {n} of {all}; the others are being read…', { n: fixed(pulls.length, 0), all: fixed(pulls.length + rest, 0) })}</p>}
      {!waits && rows.length < pulls.length && <p class="quiet found" role="status">{rows.length === 0 && wish.text.trim() ? t('No pull has {words}. A comma separates two wishes; a setting is found by its name and figure.', { words: termsOf(wish.text).map((term) => `“${term}”`).join(' + ') }) : t('{n} of {all}.', { n: fixed(rows.length, 0), all: fixed(pulls.length, 0) })}</p>}
      {open && <div class="pull-deeds card"><header><h3>{t('Pull {pull}', { pull: open.id })}</h3><button type="button" class="plain" onClick={() => setOpened(0)}>Close</button></header><Later key={open.id} part={(m) => m.PullDeeds} given={{ p: open }} /></div>}
      <div tabIndex={0} class="scroll tall" ref={w.box} onScroll={w.onScroll}><table class="list" aria-rowcount={rest > 0 ? -1 : items.length + 1} data-pulls={rows.length} onKeyDown={(e) => walk(e, (last) => w.toRow(last ? items.length : 0))}>
        <thead><tr><th scope="col">Before</th><th scope="col">After</th><th scope="col" class="num">Pull</th><th scope="col" class="num">To, rpm</th><th scope="col" class="num">{t('Mean, {unit}', { unit: unitOf('torque') })}</th><th scope="col">What changed</th></tr></thead>
        <tbody>
          {w.above > 0 && <tr class="unseen-rows" aria-hidden="true"><td colSpan={6} style={{ height: `${w.above}px` }} /></tr>}
          {items.slice(w.from, w.to).map((item, i) => 'day' in item ? <Day key={'d' + item.above} day={item.day} rows={rows} onTake={onTake} />
            : <Row key={item.pull.id} p={item.pull} at={w.from + i} a={a} b={b} open={opened === item.pull.id} onToggle={onToggle} onOpen={(id) => setOpened(opened === id ? 0 : id)} />)}
          {w.below > 0 && <tr class="unseen-rows" aria-hidden="true"><td colSpan={6} style={{ height: `${w.below}px` }} /></tr>}
        </tbody>
      </table></div>
      <p class="quiet list-keys">{t('In the list, arrows go from pull to pull and Enter takes one; a pull’s number opens what can be done with it.')} {a.length + b.length > 1 ? t('{n} chosen.', { n: a.length + b.length }) : ''}</p>
    </section>
  );
}
