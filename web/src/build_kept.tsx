/* What else belongs to a build: what was agreed, torqued, fitted and seen. One form a kind, one list a kind, each entry with its way back. */
import { useState } from 'preact/hooks';
import { api, Refusal, type BuildBegun, type BuildReading } from './api';
import { changes, complain, say, units } from './state';
import { stamp } from './clock';
import { useDraft } from './draft';
import { date, raised, time, words } from './format';
import { t, tn, inWords } from './words';

interface One { key: string; label: string; hint?: string; unit?: [string, string]; choices?: string[]; need?: boolean; more?: boolean }
interface Kind { key: BuildReading['kind']; heading: string; text: string; fields: One[] }

const WHO: One = { key: 'who', label: 'Who', more: true }, NOTE: One = { key: 'note', label: 'Remark', more: true };
const TORQUE: [string, string] = ['N·m', 'lb-ft'], LENGTH: [string, string] = ['mm', 'in'], SPEED: [string, string] = ['rpm', 'rpm'];
const KINDS: Kind[] = [
  { key: 'agreed', heading: 'Agreed with the customer', text: 'Nothing is written down as agreed.', fields: [
    { key: 'what', label: 'What', hint: 'hill climb, pump fuel', need: true }, { key: 'power', label: 'Power', hint: '195', unit: ['kW', 'hp'] }, { key: 'power_speed', label: 'at', hint: '6500', unit: SPEED },
    { key: 'torque', label: 'Torque', hint: '310', unit: TORQUE }, { key: 'limit', label: 'Highest speed', hint: '7000', unit: SPEED }, { key: 'fuel', label: 'Fuel', hint: 'petrol' },
    { key: 'order', label: 'Target or change', choices: ['target', 'change'], more: true }, WHO, NOTE] },
  { key: 'torques', heading: 'Tightened', text: 'No fastener is written down as tightened.', fields: [
    { key: 'fastener', label: 'Bolts or studs', hint: 'main caps', need: true }, { key: 'position', label: 'Where', hint: 'main 3' }, { key: 'torque', label: 'Torque', hint: '95', unit: TORQUE }, { key: 'angle', label: 'then turned by', hint: '60', unit: ['deg', 'deg'] },
    { key: 'lubricant', label: 'On the threads', hint: 'engine oil' }, { key: 'stage', label: 'Stage', hint: 'first, final, again after heat', more: true },
    { key: 'low', label: "Maker's least", hint: '90', unit: TORQUE, more: true }, { key: 'high', label: "Maker's most", hint: '100', unit: TORQUE, more: true },
    { key: 'stretch', label: 'Stretch', hint: '0.15', unit: LENGTH, more: true }, { key: 'stretch_low', label: "Maker's least stretch", unit: LENGTH, more: true }, { key: 'stretch_high', label: "Maker's most stretch", unit: LENGTH, more: true }, WHO, NOTE] },
  { key: 'parts', heading: 'Parts and fluids', text: 'No part is written down.', fields: [
    { key: 'part', label: 'Part or fluid', hint: 'valve springs', need: true }, { key: 'number', label: 'Part number', hint: 'VS-480-62' }, { key: 'batch', label: 'Batch', hint: 'S7-0311' }, { key: 'serial', label: 'Serial number' }, { key: 'position', label: 'Where' },
    { key: 'life', label: 'Due after', hint: '12', unit: ['h', 'h'] }, { key: 'maker', label: 'Maker', more: true }, { key: 'kind', label: 'Part or fluid?', choices: ['part', 'fluid'], more: true }, { key: 'quantity', label: 'How many or how much', more: true },
    { key: 'life_above', label: 'Due after running fast for', hint: '600', unit: ['s', 's'], more: true }, { key: 'life_speed', label: 'fast is above', hint: '6000', unit: SPEED, more: true },
    { key: 'fitted_at', label: "Engine's running time when fitted", hint: '0', unit: ['h', 'h'], more: true }, WHO, NOTE] },
  { key: 'seen', heading: 'Seen', text: 'Nothing is written down as seen.', fields: [
    { key: 'what', label: 'What was looked at', hint: 'plug, filter, bearing, leak', need: true }, { key: 'position', label: 'Where', hint: 'cylinder 4' }, { key: 'says', label: 'It looked', hint: 'light tan, even', need: true },
    { key: 'grade', label: 'It means', choices: ['fine', 'watch', 'stop'] }, { key: 'stage', label: 'Stage', hint: 'after the first pulls', more: true }, WHO, NOTE] },
];
const unitOf = (f: One) => f.unit ? f.unit[units.value === 'us' ? 1 : 0] : '';
const bare = (text: string) => /^[-+\u2212]?[\d.,]+$/.test(text);

const labelOf = (kind: Kind | undefined, name: string) => { const f = kind?.fields.find((one) => one.key === name); return f ? inWords(f.label) : name.replaceAll('_', ' '); };

const PLAIN = new Set(['says', 'grade', 'order', 'kind', 'quantity']); /* what says enough without its label */

/* One entry with what was said of it; taken out of account with its reason, and kept. */
export function Entry({ one, away }: { one: BuildReading; away: boolean }) {
  const [reason, setReason] = useDraft(`withdraw-${one.id}`, '');
  const [asks, setAsks] = useState(reason !== '');
  const kind = KINDS.find((k) => k.key === one.kind), name = `${one.what}${one.position ? ' ' + one.position : ''}${one.stage ? ', ' + one.stage : ''}`;
  const told = [one.shown, ...one.details.map((d) => PLAIN.has(d.name) ? inWords(raised(d.shown)) : `${labelOf(kind, d.name)} ${inWords(raised(d.shown))}`), one.note ?? ''].filter(Boolean).join(', ');
  const called = one.shown ? `${name}, ${one.shown}` : name, stop = one.details.some((d) => d.name === 'grade' && d.shown === 'stop');
  const withdraw = (e: Event) => {
    e.preventDefault();
    api.buildWithdraw(one.id, reason.trim()).then(() => { setReason(''); say(t('{reading}: withdrawn; the book keeps it with the reason.', { reading: called })); changes.value++; }, complain);
  };
  return (
    <li class={stop ? 'stop' : ''}><span><b translate={false}>{name}</b> <span translate={false}>{told}</span> <span class="quiet" translate={false}>{[one.at ? `${date(one.at)} ${time(one.at)}` : '', one.who ?? ''].filter(Boolean).join(', ')}</span></span>
      {!away && (asks ? <form class="line-form" onSubmit={withdraw}><label>Reason <input required maxLength={300} value={reason} onInput={(e) => { setReason(e.currentTarget.value); }} /></label><button type="submit">Withdraw</button><button type="button" class="plain" onClick={() => { setAsks(false); }}>Leave it</button></form>
        : <button type="button" class="plain" aria-label={t('Withdraw: {reading}', { reading: called })} onClick={() => { setAsks(true); }}>Withdraw</button>)}</li>
  );
}

function Form({ kind }: { kind: Kind }) {
  const [typed, setTyped] = useDraft<Record<string, string>>(`build-${kind.key}`, {});
  const [asked, setAsked] = useState<string | null>(null);
  const [wrong, setWrong] = useState<{ field: string; says: string } | null>(null);
  const keepIt = (sure: boolean) => {
    const record = Object.fromEntries(kind.fields.map((f): [string, string] => { const text = (typed[f.key] ?? '').trim(); return [f.key, f.unit && bare(text) ? `${text} ${unitOf(f)}` : text]; }).filter(([, text]) => text !== ''));
    api.buildRecord(kind.key, { ...record, at: stamp(), ...(sure ? { sure: 'yes' } : {}) }).then((r) => {
      say(r.added ? t('{what}: kept.', { what: typed[kind.fields[0]!.key] ?? '' }) : t('That stands there already.'));
      changes.value++; setTyped({}); setAsked(null); setWrong(null);
    }, (problem: unknown) => {
      if (problem instanceof Refusal && problem.status === 422) { setAsked(problem.message.replace(/^record: /, '')); return; }
      if (problem instanceof Refusal && problem.field) setWrong({ field: problem.field, says: problem.message.replace(/^record: /, '') }); else complain(problem);
    });
  };
  const set = (key: string) => (e: { currentTarget: { value: string } }) => { const text = e.currentTarget.value; setTyped((old) => ({ ...old, [key]: text })); setAsked(null); if (wrong?.field === key) setWrong(null); };
  const row = (f: One) => (
    <label key={f.key}>{unitOf(f) ? t('{what}, {unit}', { what: inWords(f.label), unit: unitOf(f) }) : inWords(f.label)} {f.choices
      ? <select value={typed[f.key] ?? f.choices[0]} onChange={set(f.key)}>{f.choices.map((c) => <option key={c} value={c}>{c}</option>)}</select>
      : <input {...(f.need ? { required: true } : {})} maxLength={300} value={typed[f.key] ?? ''} placeholder={f.hint ?? ''} aria-invalid={wrong?.field === f.key ? 'true' : undefined} onInput={set(f.key)} />}
      {wrong?.field === f.key && <span class="problem over" role="alert">{wrong.says}</span>}</label>
  );
  return (
    <form class="stack kept-form" onSubmit={(e) => { e.preventDefault(); keepIt(false); }}>
      {kind.fields.filter((f) => !f.more).map(row)}
      <details class="more-fields" open={wrong != null && kind.fields.some((f) => f.more && f.key === wrong.field) || undefined}><summary>More</summary><div class="stack">{kind.fields.filter((f) => f.more).map(row)}</div></details>
      <button type="submit">Keep</button>
      {asked && <p class="problem" role="alert">{words(asked)} <button type="button" onClick={() => { keepIt(true); }}>That is right: keep it</button></p>}
    </form>
  );
}

export function Kept({ of, build, away }: { of: BuildReading['kind']; build: BuildBegun; away: boolean }) {
  const kind = KINDS.find((k) => k.key === of)!, list = build.readings.filter((r) => r.kind === of).sort((a, b) => b.id - a.id);
  return (
    <section class="card kept-card" data-kind={of}><h2>{kind.heading}</h2>
      {list.length === 0 ? <p class="quiet">{kind.text}</p> : <ul class="kept-list">{list.map((r) => <Entry key={r.id} one={r} away={away} />)}</ul>}
      {!away && <details class="item"><summary>Write down</summary><Form kind={kind} /></details>}
    </section>
  );
}

/* Every reading as it was kept, the newest first; each can be taken out of account, with the reason. */
export function Readings({ build }: { build: BuildBegun }) {
  const all = build.readings.filter((r) => r.kind === 'measured' || r.kind === 'lash').sort((a, b) => b.id - a.id);
  if (all.length === 0) return null;
  return (
    <section class="card"><h2>Readings as kept</h2>
      <details class="item"><summary><b>{tn('{n} reading', '{n} readings', all.length)}</b> <span class="quiet">newest first; a wrong one is withdrawn with its reason</span></summary>
        <ul class="kept-list">{all.map((r) => <Entry key={r.id} one={r} away={false} />)}</ul>
      </details>
    </section>
  );
}
