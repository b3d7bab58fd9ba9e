/* Notes pinned on the curves that are seen: a numbered flag at its speed, the words in a list beneath; written, and taken back with a reason. */
import type { Signal } from '@preact/signals';
import { useEffect, useMemo, useState } from 'preact/hooks';
import { get, send, type CurveNote, type CurveNotes as Answer, type PullCurve } from './api';
import { useAsked } from './answered';
import { changes, complain, say, units } from './state';
import { useDraft } from './draft';
import { date, rpm, time } from './format';
import { dots, ink, LETTER, scaleOf, theme, type Line, type Over } from './plot_line';
import { fontOf } from './plot_draw';
import type { Asked } from './pulls_facts';
import { Words } from './words_field';
import { t, tn } from './words';

const NOTE_BYTES = 400; /* as the book keeps them */
const NEAR_RPM = 30;    /* the cursor stands at it */

/* Straight between points; null where the line has none. */
function heightOf(line: Line, x: number): number | null {
  for (let i = 1; i < line.x.length; i++) {
    const a = line.x[i - 1]!, b = line.x[i]!, p = line.y[i - 1], q = line.y[i];
    if (a <= x && x <= b && p != null && q != null) return b === a ? p : p + (q - p) * (x - a) / (b - a);
  }
  return null;
}

interface Placed { note: CurveNote; number: number }
type Mark = Over['marks'][number];
/* A note has its flag on the line of its pull; of a line that is not shown it has none. */
function marksOf(all: Placed[], lines: Line[]): Mark[] {
  return all.flatMap(({ note, number }) => {
    const line = lines.find((one) => one.id === note.pull && !one.faint && !one.thin), y = line ? heightOf(line, note.speed_rpm) : null;
    return line && y != null ? [{ x: note.speed_rpm, y, axis: scaleOf(line), label: String(number) }] : [];
  });
}

function overOf(all: Placed[], lines: Line[]): Over {
  const marks = marksOf(all, lines);
  return {
    marks,
    says: (x) => all.filter(({ note }) => Math.abs(note.speed_rpm - x) <= NEAR_RPM && marks.some((m) => m.x === note.speed_rpm)).map(({ note, number }) => '. ' + t('Note {number}: {text}', { number, text: note.text })).join(''),
    draw: (u) => {
      const c = u.ctx, dot = dots();
      c.save();
      c.beginPath(); c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height); c.clip();
      c.font = fontOf(LETTER * dot, '600'); c.textAlign = 'center'; c.textBaseline = 'middle'; c.lineWidth = 1.4 * dot; c.setLineDash([]);
      for (const m of marks) {
        const px = u.valToPos(m.x, 'x', true), py = u.valToPos(m.y, m.axis, true), up = py - u.bbox.top > 36 * dot ? -1 : 1; /* under the line where there is no room above it */
        c.strokeStyle = c.fillStyle = ink('ink');
        c.beginPath(); c.moveTo(px, py); c.lineTo(px, py + up * 13 * dot); c.stroke();
        c.beginPath(); c.arc(px, py, 3 * dot, 0, 2 * Math.PI); c.fill();
        c.fillStyle = ink('card'); c.beginPath(); c.arc(px, py + up * 22 * dot, 9 * dot, 0, 2 * Math.PI); c.fill(); c.stroke();
        c.fillStyle = ink('ink'); c.fillText(m.label, px, py + up * 22 * dot);
      }
      c.restore();
    },
  };
}

function Back({ note, number }: Placed) {
  const [why, setWhy] = useDraft(`curve-note-back-${note.id}`, ''), [open] = useState(why !== '');
  const back = (e: Event) => { e.preventDefault(); send('POST', `curve-notes/${note.id}/withdraw`, { why: why.trim() }).then(() => { setWhy(''); changes.value++; say(t('Note {number} is taken back; it stays in the history of its pull.', { number })); }, complain); };
  return (
    <details open={open || undefined}><summary aria-label={t('Take it back: note {number}', { number })}>Take it back</summary>
      <form class="line-form" onSubmit={back}><Words label="Reason" required most={400} value={why} onText={setWhy} /><button type="submit">Take back</button></form>
    </details>
  );
}

function Pin({ curves, asked }: { curves: PullCurve[]; asked: Asked | null }) {
  const last = curves[curves.length - 1]!.id, [typed, setTyped] = useDraft<{ pull: number; speed: string; text: string }>(`curve-note-${curves.map((c) => c.id).join()}`, { pull: 0, speed: '', text: '' });
  const [busy, setBusy] = useState(false);
  useEffect(() => { if (asked && 'speed' in asked) setTyped((old) => ({ ...old, pull: asked.pull, speed: String(Math.round(asked.speed)) })); }, [asked && 'speed' in asked ? `${asked.pull} ${asked.speed}` : '']);
  const pull = curves.some((c) => c.id === typed.pull) ? typed.pull : last;
  const keep = (e: Event) => {
    e.preventDefault();
    if (busy) return;
    setBusy(true);
    const speed = /^\s*[\d.]+\s*$/.test(typed.speed) ? `${typed.speed.trim()} rpm` : typed.speed;
    send('POST', `pulls/${pull}/notes`, { speed, text: typed.text.trim() }).then(() => { setTyped({ pull: 0, speed: '', text: '' }); changes.value++; say(t('The note is on the curve of pull {pull}.', { pull })); }, complain).finally(() => setBusy(false));
  };
  return (
    <form class="line-form curve-note-form" onSubmit={keep}>
      {curves.length > 1 && <label>{t('Curve of')} <select value={pull} onChange={(e) => { const to = Number(e.currentTarget.value); setTyped((old) => ({ ...old, pull: to })); }}>{curves.map((c) => <option key={c.id} value={c.id}>{t('pull {pull}', { pull: c.id })}</option>)}</select></label>}
      <label>At <input required inputMode="decimal" class="short" value={typed.speed} placeholder="4250 rpm" onInput={(e) => { const speed = e.currentTarget.value; setTyped((old) => ({ ...old, speed })); }} /></label>
      <Words label="Note" required most={NOTE_BYTES} value={typed.text} placeholder="what this curve shows here" onText={(text) => setTyped((old) => ({ ...old, text }))} />
      <button type="submit" disabled={busy}>Pin it</button>
    </form>
  );
}

/** `lines`: as they are drawn now; `over`: what the plot draws over them. */
export function CurveNotes({ curves, lines, over, asked }: { curves: PullCurve[]; lines: Line[]; over: Signal<Over | null>; asked: Asked | null }) {
  const ids = curves.map((c) => c.id).join(), { answer } = useAsked(`curve-notes-${ids}`, () => get<Answer>(`curve-notes?pulls=${ids}`), [changes.value]);
  const gone = (answer?.curves ?? []).flatMap((c) => c.notes).filter((n) => n.taken_back != null);
  const placed = useMemo(() => (answer?.curves ?? []).flatMap((c) => c.notes).filter((n) => n.taken_back == null).map((note, i): Placed => ({ note, number: i + 1 })), [answer]);
  useEffect(() => { over.value = placed.length ? overOf(placed, lines) : null; }, [placed, lines, theme.value, units.value]);
  useEffect(() => () => { over.value = null; }, []);
  return (
    <section class="card curve-notes">
      <h2>Notes on the curves</h2>
      {placed.length > 0 && <ol>{placed.map(({ note, number }) => (
        <li key={note.id}><b>{t('pull {pull} at {speed}', { pull: note.pull, speed: `${rpm(note.speed_rpm, 1)}\u2009rpm` })}</b> <span translate={false}>{note.text}</span> <span class="quiet">{note.who}, {date(note.at)} {time(note.at)}</span> <Back note={note} number={number} /></li>))}</ol>}
      {gone.length > 0 && <details><summary>{tn('{n} note taken back', '{n} notes taken back', gone.length)}</summary><ul>{gone.map((n) => <li key={n.id}>{t('pull {pull} at {speed}', { pull: n.pull, speed: `${rpm(n.speed_rpm, 1)}\u2009rpm` })} <s translate={false}>{n.text}</s> <span class="quiet" translate={false}>{n.who}, {date(n.at)} {time(n.at)}; {n.taken_back}</span></li>)}</ul></details>}
      <Pin curves={curves} asked={asked} />
      <p class="quiet">A note is drawn at its speed and printed on the report; it judges nothing. Click the curve to take the speed from it.</p>
    </section>
  );
}
