/* The list of pulls by day: which stand before, which after; a whole day at once; arrows go from pull to pull. */
import { useMemo, useState } from 'preact/hooks';
import { counts, type Pull } from './api';
import { ChooseFiles } from './drop';
import { examples, matcher, termsOf } from './pulls_find';
import { date, fixed, rpm, shown, unitOf, words } from './format';
import { say } from './state';
import { t, inWords } from './words';

export type Side = 'a' | 'b';
export const PULLS_MOST = 40; /* what the server answers at once */

const ROWS_AT_ONCE = 100; /* a book of thousands is drawn as far as somebody scrolls */

const sides = [{ key: 'a', says: 'before' }, { key: 'b', says: 'after' }] as const;

/* Arrows between the buttons of the list: up and down the rows, left and right the sides. */
function walk(event: KeyboardEvent) {
  const from = (event.target as HTMLElement).closest('button');
  const buttons = [...(event.currentTarget as HTMLElement).querySelectorAll<HTMLButtonElement>('tbody button')];
  const column = (button: HTMLElement) => button.dataset['side'];
  if (!from || !buttons.includes(from)) return;
  const same = buttons.filter((button) => column(button) === column(from)), other = buttons.filter((button) => button.closest('tr') === from.closest('tr') && button !== from);
  const next = event.key === 'ArrowUp' ? same[same.indexOf(from) - 1] : event.key === 'ArrowDown' ? same[same.indexOf(from) + 1]
    : event.key === 'ArrowLeft' || event.key === 'ArrowRight' ? other[0] : event.key === 'Home' ? same[0] : event.key === 'End' ? same[same.length - 1] : undefined;
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

function Row({ p, a, b, onToggle }: { p: Pull; a: number[]; b: number[]; onToggle: (side: Side, id: number) => void }) {
  return (
    <tr class={(p.discarded ? 'discarded ' : '') + (a.includes(p.id) ? 'in-a' : b.includes(p.id) ? 'in-b' : '')}>
      {sides.map((s) => <td key={s.key}><button type="button" class={'side ' + s.key} data-side={s.key} aria-pressed={(s.key === 'a' ? a : b).includes(p.id)} aria-label={t('Pull {pull} {side}', { pull: p.id, side: inWords(s.says) })} onClick={() => onToggle(s.key, p.id)}>{s.key.toUpperCase()}</button></td>)}
      <td class="num">{p.id}</td><td class="num">{rpm(p.top_speed_rpm)}</td>
      <td class="num">{p.band_mean_torque_n_m == null ? '' : fixed(shown('torque', p.band_mean_torque_n_m), 1)}</td>
      <td>{p.purpose !== 'pull' && <span class="tag">{p.purpose}</span>}{p.tripped && <span class="tag tripped">{p.tripped}</span>}{p.held && <span class="tag tripped" title={words(p.held.text)}>held</span>}{p.reading > 1 && <span class="tag">amended</span>}{p.discarded ? <span translate={false}>{t('discarded: {why}', { why: p.discarded })}</span> : <><span translate={false}>{p.changed ?? ''}</span>{p.setup_changes.length > 0 && <span class="quiet" translate={false}> {words(p.setup_changes.map((c) => c.text).join('; '))}</span>}</>}</td>
    </tr>
  );
}

interface ListProps { pulls: Pull[]; a: number[]; b: number[]; onToggle: (side: Side, id: number) => void; onTake: (side: Side, ids: number[]) => void; onClear: () => void }

export function List({ pulls, a, b, onToggle, onTake, onClear }: ListProps) {
  const [filter, setFilter] = useState('');
  const [most, setMost] = useState(ROWS_AT_ONCE);
  const rows = useMemo(() => pulls.filter(matcher(filter)).reverse(), [pulls, filter]);
  const more = () => setMost(most + 4 * ROWS_AT_ONCE);
  const scrolled = (e: { currentTarget: HTMLElement }) => {
    const box = e.currentTarget;
    if (most < rows.length && box.scrollTop + box.clientHeight > box.scrollHeight - 600) more();
  };
  return (
    <section class="list-side" aria-label="Pulls">
      <div class="tools"><input type="search" placeholder={t('Find: {examples}', { examples: examples() })} aria-label="Find pulls" value={filter} onInput={(e) => setFilter(e.currentTarget.value)} />
        {a.length + b.length > 1 && <button type="button" onClick={onClear}>Only the last</button>}
        <ChooseFiles label="Add files" /></div>
      {filter.trim() !== '' && <p class="quiet found" role="status">{rows.length === 0 ? t('No pull has {words}. A comma separates two wishes; a setting is found by its name and figure.', { words: termsOf(filter).map((term) => `“${term}”`).join(' + ') }) : t('{n} of {all}.', { n: fixed(rows.length, 0), all: fixed(pulls.length, 0) })}</p>}
      <div tabIndex={0} class="scroll tall" onScroll={scrolled}><table class="list" onKeyDown={walk}>
        <thead><tr><th scope="col">Before</th><th scope="col">After</th><th scope="col" class="num">Pull</th><th scope="col" class="num">To, rpm</th><th scope="col" class="num">{t('Mean, {unit}', { unit: unitOf('torque') })}</th><th scope="col">What changed</th></tr></thead>
        <tbody>
          {rows.slice(0, most).map((p, i) => (<>
            {(i === 0 || rows[i - 1]!.day !== p.day) && <Day key={'d' + p.day} day={p.day} rows={rows} onTake={onTake} />}
            <Row key={p.id} p={p} a={a} b={b} onToggle={onToggle} />
          </>))}
          {rows.length > most && <tr><td colSpan={6}><button type="button" onClick={more}>{t('{n} older pulls: show more', { n: fixed(rows.length - most, 0) })}</button></td></tr>}
        </tbody>
      </table></div>
      <p class="quiet keys">{t('In the list, arrows go from pull to pull and Enter takes one. On a plot: left and right move, up and down choose a line, + − 0 zoom, Enter walks back.')} {a.length + b.length > 1 ? t('{n} chosen.', { n: a.length + b.length }) : ''}</p>
    </section>
  );
}
