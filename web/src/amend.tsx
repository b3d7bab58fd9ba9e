/* A fact put right from the page: what was wrong, how it is, why. The former reading stays; whoever comes second is told to look
 * again. A held pull shows its question here, with both answers. */
import { useState } from 'preact/hooks';
import { api, type Pull } from './api';
import { useAsked } from './answered';
import { useDraft } from './draft';
import { date, quantity, time, words } from './format';
import { complain, say } from './state';
import { Words } from './words_field';
import { t, tn } from './words';

/* What is asked for most, each as the server names it; any field of the set-up or channel can be typed. */
const KINDS = [
  { key: 'set', says: () => t('Weather or set-up'), names: ['pressure', 'temperature', 'humidity', 'spark', 'fuel', 'jets', 'lash_inlet', 'lash_exhaust'], shows: '985 hPa' },
  { key: 'units', says: () => t('Unit of a channel'), names: ['torque', 'speed', 'power', 'lambda', 'fuel_flow', 'oil_temperature', 'oil_pressure'], shows: 'lb-ft' },
  { key: 'cell', says: () => t('Cell'), names: ['rotor_inertia', 'arm'], shows: '0.085 kg·m2' },
  { key: 'engine', says: () => t('Engine'), names: null, shows: '' },
  { key: 'changed', says: () => t('What was changed before it'), names: null, shows: '' },
  { key: 'purpose', says: () => t('Purpose'), names: null, shows: 'heat' },
  { key: 'at', says: () => t('Time'), names: null, shows: '2026-06-12 16:30' },
] as const;
type Kind = (typeof KINDS)[number];

function AmendForm({ p }: { p: Pick<Pull, 'id' | 'reading' | 'held'> }) {
  const [kind, setKind] = useState<Kind>(KINDS[0]);
  const [name, setName] = useState('pressure');
  const [value, setValue] = useDraft(`amend-value-${p.id}`, '');
  const [reason, setReason] = useDraft(`amend-reason-${p.id}`, '');
  const list = `amend-names-${p.id}`;
  const undo = () => { api.amend(p.id, { undo: true, reason: t('taken back at once') }).then(() => { say(t('Pull {pull}: taken back.', { pull: p.id })); }, complain); };
  const amend = (e: Event) => {
    e.preventDefault();
    const told = kind.names ? { [kind.key]: { [name.trim().replaceAll(' ', '_')]: value } } : { [kind.key]: value };
    api.amend(p.id, { ...told, reason, reading: p.reading }).then((a) => {
      setValue(''); setReason('');
      const changed = a.pulls.flatMap((one) => one.changes.map((c) => c.text)).join('; ');
      if (a.pulls.length === 0) say(t('Pull {pull} says so already.', { pull: p.id }));
      else if (a.held.length) say(t('Pull {pull} is amended and held: {question}', { pull: p.id, question: words(a.held[0]!.finding.text) }), undo);
      else say([t('Pull {pull} is amended: {changes}.', { pull: p.id, changes: changed }), a.answers_on_an_earlier_reading.length ? tn('{n} answer now rests on an earlier reading.', '{n} answers now rest on an earlier reading.', a.answers_on_an_earlier_reading.length) : ''].join(' ').trim(), undo);
    }, complain);
  };
  return (
    <details><summary>Amend it</summary>
      <form class="line-form" onSubmit={amend}>
        <label>What was wrong <select value={kind.key} onChange={(e) => { const next = KINDS.find((k) => k.key === e.currentTarget.value)!; setKind(next); setName(next.names?.[0] ?? ''); }}>{KINDS.map((k) => <option key={k.key} value={k.key}>{k.says()}</option>)}</select></label>
        {kind.names && <label>Which <input list={list} required value={name} onInput={(e) => setName(e.currentTarget.value)} /><datalist id={list}>{kind.names.map((n) => <option key={n} value={n} />)}</datalist></label>}
        <Words label={t('How it is')} required={kind.key !== 'changed'} most={400} value={value} onText={setValue} placeholder={kind.shows} />
        <Words label={t('Reason')} required most={400} value={reason} onText={setReason} />
        <button type="submit">Amend</button>
      </form>
    </details>
  );
}

function Held({ p }: { p: Pick<Pull, 'id' | 'reading' | 'held'> }) {
  const [reason, setReason] = useDraft(`right-${p.id}`, '');
  const right = (e: Event) => {
    e.preventDefault();
    api.right(p.id, reason).then(() => { setReason(''); say(t('Pull {pull} is right as it is and is used again.', { pull: p.id })); }, complain);
  };
  return (<>
    <p class="mind">{t('Held, and used by nothing: {question}', { question: words(p.held!.text) })}</p>
    <form class="line-form" onSubmit={right}><Words label={t('It is right, because')} required most={400} value={reason} onText={setReason} /><button type="submit">Right as it is</button></form>
  </>);
}

/* What was corrected, the last first; the last can be taken back. */
function Corrected({ p }: { p: Pick<Pull, 'id' | 'reading' | 'held'> }) {
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

export function Amend({ p }: { p: Pick<Pull, 'id' | 'reading' | 'held'> }) {
  return (<>
    {p.held && <Held p={p} />}
    {p.reading > 1 && <Corrected p={p} />}
    <AmendForm p={p} />
  </>);
}
