/* Notes and marks of a test day, and how the dyno is, beside where the day stands. */
import { api, type Chart, type Notes } from './api';
import { useAnswered } from './answered';
import { stamp } from './clock';
import { useDraft } from './draft';
import { Words } from './words_field';
import { changes, complain, say } from './state';
import { betweenPulls, date, dash, percent, quantity, time } from './format';
import { keep, letGo, refused, itIsSo, tryAgain, waiting, type Waiting } from './queue';
import { t, tn } from './words';

const NOTE_BYTES = 2000; /* as the book keeps them */

interface Line { key: string; at: string; text: string; who: string; id?: number; back?: boolean }

function linesOf(notes: Notes): Line[] {
  const pending = waiting.value.filter((w) => w.kind === 'note');
  return [
    ...notes.notes.map((n) => ({ key: `n${n.id}`, at: n.at, text: n.text, who: n.who, id: n.id, back: n.taken_back != null })),
    ...notes.marks.map((m) => ({ key: `m${m.recording_id} ${m.time_s} ${m.text}`, at: m.at, text: m.text, who: t('mark while recording') })),
    ...pending.map((w) => ({ key: `w${w.record['at']}`, at: w.record['at']!, text: w.record['text']!, who: t('on this device, not in the book yet') })),
  ].sort((a, b) => a.at.localeCompare(b.at));
}

/* What the book said no to stays on the device, with the reason, until somebody decides. */
export function Refused({ list }: { list: Waiting[] }) {
  return (
    <>{list.map((w) => {
      const name = w.record['text'] ?? w.record['valve'] ?? w.record['step'] ?? w.kind;
      return (
        <p key={w.kind + w.record['at']} class="said grave"><span translate={false}>{t('{what} is not in the book: {why}', { what: name, why: w.why ?? '' })}</span>
          {w.asks && <button type="button" class="plain" aria-label={t('That is right: {what}', { what: name })} onClick={() => { itIsSo(w); }}>That is right: keep it</button>}
          <button type="button" class="plain" aria-label={t('Try again: {what}', { what: name })} onClick={() => { tryAgain(w); }}>Try again</button>
          <button type="button" class="plain" aria-label={t('Let go: {what}', { what: name })} onClick={() => { letGo([w]); }}>Let go</button></p>);
    })}</>
  );
}

export function NotesCard({ day }: { day: string | null }) {
  const [text, setText] = useDraft('note', '');
  const version = changes.value, today = stamp().slice(0, 10);
  const days = [...new Set([day ?? today, today])].sort();
  const shown = useAnswered(`notes-${days.join()}`, () => Promise.all(days.map((d) => api.notes(d))), [version]) ?? [];
  const submit = (e: Event) => {
    e.preventDefault();
    if (!text.trim()) return;
    keep('note', { at: stamp(), text: text.trim() });
    setText('');
  };
  const back = (id: number, put: boolean) => api.noteBack(id, put).then(() => {
    if (!put) say(t('The note is taken back; the book keeps it.'), () => { void back(id, true); });
    changes.value++;
  }, complain);
  const all = linesOf({ day: '', notes: shown.flatMap((n) => n.notes), marks: shown.flatMap((n) => n.marks) });
  return (
    <section class="card">
      <h2>Notes and marks</h2>
      <form class="line-form" onSubmit={submit}><Words label="Note" value={text} most={NOTE_BYTES} lines={2} placeholder="what you saw, heard, smelt" onText={setText} /><button type="submit">Keep</button></form>
      <Refused list={refused.value.filter((r) => r.kind === 'note')} />
      {all.length > 0 && <ul class="notes">{all.map((n) => (
        <li key={n.key} class={n.back ? 'back' : ''}>
          <span class="quiet">{n.at.slice(0, 10) === day ? '' : date(n.at) + ' '}{time(n.at)}</span>
          <span translate={false}>{n.back ? <s translate={false}>{n.text}</s> : n.text} <span class="quiet">{n.back ? t('taken back') : n.who}</span></span>
          {n.id != null && <button type="button" class="plain" aria-label={n.back ? t('Put back: {what}', { what: n.text }) : t('Take back: {what}', { what: n.text })} onClick={() => { void back(n.id!, n.back === true); }}>{n.back ? 'Put back' : 'Take back'}</button>}
        </li>))}</ul>}
    </section>
  );
}

const limitsOf = (chart: Chart) => chart.centre == null ? t('limits begin with the fourth') : chart.in_control ? t('inside its limits') : t('OUTSIDE its limits');

export function DynoHealth() {
  const shop = useAnswered('shop', api.shop, [changes.value]);
  if (!shop) return null;
  const zero = shop.charts.find((c) => c.kind === 'zero'), weight = shop.charts.find((c) => c.kind === 'check weight');
  const values = zero?.values ?? [], last = values[values.length - 1], checks = shop.calibrations.filter((c) => c.kind === 'check weight');
  const check = checks[checks.length - 1], cell = shop.calibrations.filter((c) => c.kind === 'calibration').pop();
  return (
    <section class="card">
      <h2>Dyno health</h2>
      <dl class="facts">
        {shop.repeatability.filter((r) => r.relative_sd != null).map((r) => <div key={r.level}><dt>{t('Repeats, {level}', { level: betweenPulls(r.level) })}</dt><dd>{percent(r.relative_sd, 2)} <span class="quiet">{r.borrowed ? t('starting figure, not learned here') : tn('one pull, one degree of freedom', 'one pull, {n} degrees of freedom', Math.round(r.degrees_of_freedom))}</span></dd></div>)}
        <div><dt>Zero</dt><dd>{last == null ? dash : quantity('torque', last, 2)} <span class="quiet">{last == null ? t('none on record') : values.length > 1 ? `${t('drift since the first {drift}', { drift: quantity('torque', last - values[0]!, 2) })}; ${limitsOf(zero!)}` : t('the first')}</span></dd></div>
        <div><dt>Check weight</dt><dd>{check?.value == null ? dash : percent(check.value - 1, 2, true)} <span class="quiet">{check ? `${date(check.at)} ${time(check.at)}; ${limitsOf(weight!)}` : t('none on record')}</span></dd></div>
        <div><dt>Calibration</dt><dd>{cell ? date(cell.at) : dash} <span class="quiet">{shop.calibration_overdue?.text ?? (cell?.valid_until ? t('valid until {day}', { day: date(cell.valid_until) }) : '')}</span></dd></div>
      </dl>
      <p class="quiet"><a href="#/shop">Zero and check weight are entered in Shop</a></p>
    </section>
  );
}
