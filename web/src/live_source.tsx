/* A source put together field by field: its kind, the fields of that kind as the server's table has them, and for a bus what is where on it.
 * Every fault is said beside its field, all of them at once; what was typed is there again. What it gives is an address, as the command line
 * takes it. */
import { useRef, useState } from 'preact/hooks';
import { api, type Field, type SourceFault } from './api';
import { useAsked } from './answered';
import { useDraft } from './draft';
import { complain } from './state';
import { inWords, t } from './words';

type Row = Record<string, string>;
interface Typed { kind: string; fields: Record<string, Row>; rows: Record<string, Row[]> }
const EMPTY: Typed = { kind: 'tcp', fields: {}, rows: {} };
const MOST_BYTES = 262144; /* as the server reads */
const nameOf = (field: string) => inWords(field.replaceAll('_', ' '));

function FieldOf({ field, value, says, onType }: { field: Field; value: string; says: string | undefined; onType: (text: string) => void }) {
  const choices = field.type === 'boolean' ? ['no', 'yes'] : field.choices, bad = says ? 'true' as const : undefined;
  const shows = field.default ? t('{value} (default)', { value: field.default }) : field.examples?.split(', ')[0] ?? '';
  return (
    <label title={field.help}><span translate={false}>{nameOf(field.name)}</span> {choices
      ? <select value={value || (field.default ?? '')} aria-invalid={bad} onChange={(e) => onType(e.currentTarget.value)}>{choices.map((c) => <option key={c} value={c} translate={false}>{inWords(c)}</option>)}</select>
      : <input value={value} placeholder={shows} aria-invalid={bad} onInput={(e) => onType(e.currentTarget.value)} />}
    {says && <span class="problem over" role="alert">{says}</span>}</label>
  );
}

export function SourceForm({ onTake, onClose }: { onTake: (url: string) => void; onClose: () => void }) {
  const { answer, why } = useAsked('source-kinds', api.sourceKinds);
  const [typed, setTyped] = useDraft<Typed>('live-form', EMPTY), [faults, setFaults] = useState<SourceFault[]>([]), [busy, setBusy] = useState(false), asked = useRef(0);
  if (!answer) return <p class="quiet">{why ?? t('Reading…')}</p>;
  const kind = answer.kinds.find((k) => k.key === typed.kind) ?? answer.kinds[0]!, list = answer.rows_of[kind.key];
  const table = answer.rows.find((r) => r.key === list)?.fields ?? [], own = typed.fields[kind.key] ?? {}, rows = typed.rows[kind.key] ?? [];
  const saysOf = (field: string) => faults.find((f) => f.field === field)?.says;
  const edit = (field: string, next: Typed) => { asked.current++; setTyped(next); setFaults((old) => old.filter((f) => f.field !== field && f.field !== 'rows')); };
  const put = (name: string, text: string) => edit(name, { ...typed, fields: { ...typed.fields, [kind.key]: { ...own, [name]: text } } });
  const putRows = (next: Row[], field = '') => edit(field, { ...typed, rows: { ...typed.rows, [kind.key]: next } });
  const take = async () => {
    const mine = ++asked.current;
    setBusy(true);
    try {
      const got = await api.sourcePut(kind.key, own, list ? rows : null);
      if (mine !== asked.current) return; /* typed on meanwhile: that answer is of something else */
      setFaults(got.faults);
      if (got.url != null) onTake(got.url);
    } catch (problem) { complain(problem); } finally { setBusy(false); }
  };
  const read = async (input: HTMLInputElement) => {
    const file = input.files?.[0];
    input.value = '';
    if (!file) return;
    if (file.size > MOST_BYTES) { setFaults([{ field: 'rows', says: t('{file}: a list of channels has at most 256 kB', { file: file.name }) }]); return; }
    const got = await api.sourceMap(kind.key, await file.text());
    setFaults([]);
    putRows(got.rows);
  };
  return (
    <fieldset class="source-form" onKeyDown={(e) => { if (e.key === 'Enter' && e.target instanceof HTMLInputElement && e.target.type !== 'file') { e.preventDefault(); void take(); } }}>
      <legend>A source, field by field</legend>
      <label>Kind <select value={kind.key} onChange={(e) => { setFaults([]); asked.current++; setTyped({ ...typed, kind: e.currentTarget.value }); }}>{answer.kinds.map((k) => <option key={k.key} value={k.key}>{k.heading}</option>)}</select></label>
      {kind.fields.map((f) => <FieldOf key={f.name} field={f} value={own[f.name] ?? ''} says={saysOf(f.name)} onType={(text) => put(f.name, text)} />)}
      {list && <div class="source-rows">
        {rows.map((row, i) => <fieldset key={i}><legend translate={false}>{row['name'] || t('Channel {number}', { number: i + 1 })}</legend>
          {table.map((f) => <FieldOf key={f.name} field={f} value={row[f.name] ?? ''} says={saysOf(`${i}.${f.name}`)} onType={(text) => putRows(rows.map((one, k) => k === i ? { ...one, [f.name]: text } : one), `${i}.${f.name}`)} />)}
          <button type="button" aria-label={t('Take out: {what}', { what: row['name'] || t('Channel {number}', { number: i + 1 }) })} onClick={() => { setFaults([]); putRows(rows.filter((_, k) => k !== i)); }}>Take out</button></fieldset>)}
        {saysOf('rows') && <p class="problem" role="alert">{saysOf('rows')}</p>}
        <p class="tools"><button type="button" onClick={() => putRows([...rows, {}])}>Add a channel</button>
          <label class="file-choice">Channels from a file <input type="file" accept=".yaml,.yml,text/yaml" onChange={(e) => { read(e.currentTarget).catch(complain); }} /></label></p>
      </div>}
      <p class="tools"><button type="button" disabled={busy} onClick={() => { void take(); }}>Check it and take it</button> <button type="button" onClick={onClose}>Close</button></p>
    </fieldset>
  );
}
