/* A fact put right from the page: what was wrong (one fact, or several in one amendment), how it is, why. The former reading stays; whoever comes second is told to look
 * again. A held pull shows its question here, with both answers. */
import { signal } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import { api, type MendAsk, type Pull } from './api';
import { useAsked } from './answered';
import { useDraft } from './draft';
import { date, quantity, time, words } from './format';
import { complain, say } from './state';
import { Words } from './words_field';
import { t, tn } from './words';

/* What is asked for most, each as the server names it; any field of the set-up or channel can be typed. */
const KINDS = [
  { key: 'set', says: () => t('Weather or set-up'), names: ['pressure', 'temperature', 'humidity', 'dew_point', 'spark', 'fuel', 'jets', 'lash_inlet', 'lash_exhaust'], shows: '985 hPa' },
  { key: 'units', says: () => t('Unit of a channel'), names: ['torque', 'speed', 'power', 'lambda', 'fuel_flow', 'oil_temperature', 'oil_pressure'], shows: 'lb-ft' },
  { key: 'columns', says: () => t('Column of a channel'), names: ['torque', 'power', 'speed', 'oil_temperature', 'oil_pressure', 'coolant_temperature', 'inlet_air_temperature'], shows: 'Load 1' },
  { key: 'cell', says: () => t('Cell'), names: ['rotor_inertia', 'arm'], shows: '0.085 kg·m2' },
  { key: 'engine', says: () => t('Engine'), names: null, shows: '' },
  { key: 'changed', says: () => t('What was changed before it'), names: null, shows: '' },
  { key: 'weather', says: () => t('Weather of the station'), names: null, shows: 'station' },
  { key: 'calibration', says: () => t('Calibration'), names: null, shows: 'now' },
  { key: 'purpose', says: () => t('Purpose'), names: null, shows: 'heat' },
  { key: 'at', says: () => t('Time'), names: null, shows: '2026-06-12 16:30' },
] as const;
type Kind = (typeof KINDS)[number];
/* Of the list or of a curve. */
type Of = Pick<Pull, 'id' | 'reading' | 'held' | 'asks'>;
interface Fact { kind: string; name: string; value: string }
const FIRST: Fact = { kind: 'set', name: 'pressure', value: '' };
const kindOf = (key: string): Kind => KINDS.find((k) => k.key === key) ?? KINDS[0];

/* As the server takes it: one amendment, whatever it is of. Columns are a channel map. */
function told(facts: Fact[]) {
  const body: Record<string, string | Record<string, string>> = {};
  const rows: string[] = [];
  for (const f of facts) {
    const name = f.name.trim().replaceAll(' ', '_');
    if (f.kind === 'columns') rows.push(`  ${name}: { column: ${JSON.stringify(f.value.trim())} }\n`);
    else if (kindOf(f.kind).names) body[f.kind] = { ...(body[f.kind] as Record<string, string> | undefined), [name]: f.value };
    else body[f.kind] = f.value;
  }
  return rows.length ? { ...body, map: 'channels:\n' + rows.join('') } : body;
}

/* The parts of a mend on their way into a pull's form, which opens and takes them. */
const filling = signal<{ pull: number; asks: MendAsk[]; reason: string } | null>(null);
export function fillAmend(pull: number, asks: MendAsk[], question = '') { filling.value = { pull, asks, reason: question && t('answer to: {question}', { question }).slice(0, 300) }; }

const factOf = (ask: MendAsk): Fact => ({ kind: ask.what, name: ask.name ?? '', value: ask.value ?? '' });

function AmendForm({ p }: { p: Of }) {
  const place = useRef<HTMLDetailsElement>(null);
  const [more, setMore] = useDraft<Fact[]>(`amend-more-${p.id}`, []);
  const [shows, setShows] = useState('');
  const [now, setNow] = useDraft<Fact>(`amend-fact-${p.id}`, FIRST); /* a figure is nothing without what it is of */
  const setValue = (value: string) => { setNow((old) => ({ ...old, value })); };
  const [reason, setReason] = useDraft(`amend-reason-${p.id}`, '');
  const [open] = useState(now.value + reason !== '' || more.length > 0); /* what was in the middle of being typed is in sight again */
  const { name, value } = now, kind = kindOf(now.kind), list = `amend-names-${p.id}`;
  const asked = filling.value;
  useEffect(() => {
    const asks = asked?.pull === p.id ? asked.asks.filter((a) => KINDS.some((k) => k.key === a.what)) : [];
    if (asks.length === 0) return;
    const open = asks.find((a) => a.value == null) ?? asks[asks.length - 1]!;
    setMore(asks.filter((a) => a !== open).map(factOf));
    setNow(factOf(open));
    setShows(open.what === 'columns' ? '' : open.shows ?? '');
    setReason((old) => old || asked!.reason);
    filling.value = null;
    if (place.current) { place.current.open = true; place.current.scrollIntoView({ block: 'nearest' }); }
  }, [asked]);
  const undo = () => { api.amend(p.id, { undo: true, reason: t('taken back at once') }).then(() => { say(t('Pull {pull}: taken back.', { pull: p.id })); }, complain); };
  const amend = (e: Event) => {
    e.preventDefault();
    api.amend(p.id, { ...told([...more, now]), reason, reading: p.reading }).then((a) => {
      setNow(FIRST); setReason(''); setMore([]);
      const changed = a.pulls.flatMap((one) => one.changes.map((c) => c.text)).join('; ');
      if (a.pulls.length === 0) say(t('Pull {pull} says so already.', { pull: p.id }));
      else if (a.held.length) say(t('Pull {pull} is amended and held: {question}', { pull: p.id, question: words(a.held[0]!.finding.text) }), undo);
      else say([t('Pull {pull} is amended: {changes}.', { pull: p.id, changes: changed }), a.answers_on_an_earlier_reading.length ? tn('{n} answer now rests on an earlier reading.', '{n} answers now rest on an earlier reading.', a.answers_on_an_earlier_reading.length) : ''].join(' ').trim(), undo);
    }, complain);
  };
  const another = () => { setMore([...more, now]); setValue(''); };
  const says = (f: Fact) => [kindOf(f.kind).says(), f.name.replaceAll('_', ' '), f.value].filter(Boolean).join(': ');
  return (
    <details ref={place} open={open || undefined}><summary>Amend it</summary>
      <form class="line-form" onSubmit={amend}>
        {more.length > 0 && <ul class="amend-more">{more.map((f, i) => <li key={i}>{says(f)} <button type="button" aria-label={t('Leave out: {fact}', { fact: says(f) })} onClick={() => setMore(more.filter((_, k) => k !== i))}>×</button></li>)}</ul>}
        <label>What was wrong <select value={kind.key} onChange={(e) => { const next = kindOf(e.currentTarget.value); setNow({ kind: next.key, name: next.names?.[0] ?? '', value }); setShows(''); }}>{KINDS.map((k) => <option key={k.key} value={k.key}>{k.says()}</option>)}</select></label>
        {kind.names && <label>Which <input list={list} required value={name} onInput={(e) => { const text = e.currentTarget.value; setNow((old) => ({ ...old, name: text })); }} /><datalist id={list}>{kind.names.map((n) => <option key={n} value={n} />)}</datalist></label>}
        <Words label={t('How it is')} required={kind.key !== 'changed'} most={400} value={value} onText={setValue} placeholder={shows || kind.shows} />
        <button type="button" disabled={!value.trim()} onClick={another}>One more fact</button>
        <Words label={t('Reason')} required most={400} value={reason} onText={setReason} />
        <button type="submit">Amend</button>
      </form>
    </details>
  );
}

function Held({ p }: { p: Of }) {
  const asks = (p.asks ?? []).filter((a) => KINDS.some((k) => k.key === a.what)), known = asks.every((a) => a.value != null);
  const [reason, setReason] = useDraft(`right-${p.id}`, '');
  const right = (e: Event) => {
    e.preventDefault();
    api.right(p.id, reason).then(() => { setReason(''); say(t('Pull {pull} is right as it is and is used again.', { pull: p.id })); }, complain);
  };
  return (<>
    <p class="mind">{t('Held, and used by nothing: {question}', { question: words(p.held!.text) })}</p>
    {asks.length > 0 && <p class="tools"><button type="button" onClick={() => fillAmend(p.id, asks, words(p.held!.text))}>{known ? t('Correct it: {facts}', { facts: asks.map((a) => [a.name?.replaceAll('_', ' '), a.value].filter(Boolean).join(' = ')).join(', ') }) : t('Correct it')}</button></p>}
    <form class="line-form" onSubmit={right}><Words label={t('It is right, because')} required most={400} value={reason} onText={setReason} /><button type="submit">Right as it is</button></form>
  </>);
}

/* What was corrected, the last first; the last can be taken back. */
function Corrected({ p }: { p: Of }) {
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useDraft(`undo-reason-${p.id}`, '');
  const { answer, why } = useAsked(`history ${p.id} ${p.reading}`, open ? () => api.history(p.id) : null);
  const undo = (e: Event) => {
    e.preventDefault();
    api.amend(p.id, { undo: true, reason, reading: p.reading }).then(() => { setReason(''); say(t('Pull {pull}: taken back.', { pull: p.id })); }, complain);
  };
  return (
    <details onToggle={(e) => setOpen(e.currentTarget.open)}><summary>{t('Amended: reading {reading}', { reading: p.reading })}</summary>
      {why && <p class="mind">{why}</p>}
      {answer && <ol class="quiet">{answer.amendments.slice().reverse().map((a) => <li key={a.id}>
        {t('{day} {clock}, {who}: {reason}', { day: date(a.at), clock: time(a.at), who: a.who, reason: a.reason })}
        <br />{a.changes.map((c) => words(c.text)).join('; ')}
        {a.former_band_mean_torque_n_m != null && <><br />{t('mean torque before it: {torque}', { torque: quantity('torque', a.former_band_mean_torque_n_m, 1) })}</>}
      </li>)}</ol>}
      <form class="line-form" onSubmit={undo}><Words label={t('Take the last back, because')} required most={400} value={reason} onText={setReason} /><button type="submit">Take it back</button></form>
    </details>
  );
}

export function Amend({ p }: { p: Of }) {
  return (<>
    {p.held && <Held p={p} />}
    {p.reading > 1 && <Corrected p={p} />}
    <AmendForm p={p} />
  </>);
}
