/* The form of one part of the engine: what matters first, all else behind "all"; each field with its unit, its fault and what speaks against it. */
import type { Field, FieldGroup, Message, Typed } from './api';
import { read, type Fault, type Path } from './engine_faults';
import { PARTS, partOf, pathOf, restOf, type Part } from './engine_parts';
import { united, unitFor } from './engine_typed';
import { raised, words } from './format';
import { t, tn } from './words';

export type Edit = (path: Path, text: string, list: boolean) => void;
interface InputProps { field: Field; group: string; typed: Typed; problem: string | null; warnings: Message[]; onEdit: Edit }

function Input({ field, group, typed, problem, warnings, onEdit }: InputProps) {
  const id = `f-${group}-${field.name}`, text = read(typed, [group, field.name]), list = field.type === 'numbers', unit = unitFor(field);
  const change = (e: { currentTarget: { value: string } }) => onEdit([group, field.name], e.currentTarget.value, list);
  /* A bare figure gets the unit that stands beside it, where one sees it. */
  const leave = (e: { currentTarget: { value: string } }) => { const full = united(field, e.currentTarget.value); if (full !== e.currentTarget.value) onEdit([group, field.name], full, list); };
  /* in quotes: what stands for the shop's own words, which the help says already */
  const hint = field.examples?.startsWith('"') ? undefined : field.examples?.split(', ')[0], offers = `${id}-offers`;
  const placeholder = field.default ? t('{value} (default)', { value: field.default }) : hint ? t('for example {value}', { value: list ? `${hint}, …` : hint }) : '';
  const own = { id, value: text, onInput: change, onBlur: leave, placeholder, 'aria-describedby': id + '-help', autocomplete: 'off', spellcheck: false, ...(problem ? { 'aria-invalid': 'true' as const } : {}) };
  return (
    <div class={'field' + (problem ? ' wrong' : '')}>
      <label for={id}>{field.name.replaceAll('_', ' ')}</label>{unit && <span class="quiet field-unit" aria-hidden="true"> {unit}</span>}
      {field.choices || field.type === 'boolean'
        ? <select id={id} value={text} onChange={change} aria-describedby={id + '-help'}><option value="">{field.default ? t('{value} (default)', { value: t(field.default) }) : ''}</option>{(field.choices ?? ['yes', 'no']).map((c) => <option key={c} value={c}>{c}</option>)}</select>
        : field.offers ? <input list={offers} {...own} /> : <input {...own} />}
      {field.offers && <datalist id={offers}>{field.offers.map((o) => <option key={o} value={o} />)}</datalist>}
      <p id={id + '-help'} class="help">{field.help}{field.range ? ` (${raised(field.range)})` : ''}{field.origin ? ` · ${t(field.origin)}` : ''}</p>
      {problem && <p class="problem">{problem}</p>}
      {warnings.map((w) => <p key={w.text} class={'warned ' + w.severity}>{t(w.severity)}: {words(w.text)}</p>)}
    </div>
  );
}

export interface FormProps { groups: FieldGroup[]; typed: Typed; faults: Fault[]; warnings: Message[]; onEdit: Edit }

export function PartForm({ part, groups, typed, faults, warnings, onEdit }: FormProps & { part: Part }) {
  const of = (path: string) => { const [name, group = ''] = path.split('.').reverse() as [string, string?]; const g = groups.find((one) => one.key === group), f = g?.fields.find((one) => one.name === name); return f ? { group, field: f } : null; };
  const faultOf = (group: string, name: string) => faults.find((f) => f.path[0] === group && f.path[1] === name)?.says ?? null;
  const heading = (group: string) => groups.find((g) => g.key === group)?.heading ?? '';
  const fields = (paths: string[]) => {
    const known = paths.flatMap((path) => { const one = of(path); return one ? [one] : []; });
    const both = new Set(known.map((k) => k.group)).has('inlet') && new Set(known.map((k) => k.group)).has('exhaust');
    const sides = both ? ['', 'inlet', 'exhaust'] : [''];
    return sides.map((side) => {
      const here = known.filter((k) => both ? (side === '' ? k.group !== 'inlet' && k.group !== 'exhaust' : k.group === side) : true);
      return here.length === 0 ? null : <div key={side}>{side && <h3>{heading(side)}</h3>}<div class="fields">{here.map(({ group, field }) => <Input key={group + field.name} field={field} group={group} typed={typed} problem={faultOf(group, field.name)} warnings={warnings.filter((w) => w.about === pathOf(group, field.name))} onEdit={onEdit} />)}</div></div>;
    });
  };
  const rest = restOf(part, groups), filled = rest.filter((path) => { const one = of(path); return one && read(typed, [one.group, one.field.name]) !== ''; }).length;
  const wrong = faults.some((f) => rest.includes(pathOf(...f.path)));
  return (
    <section class="card part-form" data-part={part.key}><h2>{part.title}</h2>
      {fields(part.first)}
      {rest.length > 0 && <details class="more-fields" open={wrong || undefined}><summary>{filled ? tn('All: {n} more field, {filled} of them filled in', 'All: {n} more fields, {filled} of them filled in', rest.length, { filled }) : tn('All: {n} more field', 'All: {n} more fields', rest.length)}</summary>{fields(rest)}</details>}
    </section>
  );
}

/* A page a part, with what is wrong there counted; the one at hand is in the address. */
export function PartTabs({ at, faults, warnings, hash }: { at: string; faults: Fault[]; warnings: Message[]; hash: (part: string) => string }) {
  const count = (key: string) => faults.filter((f) => partOf(pathOf(...f.path)) === key).length, notes = (key: string) => warnings.filter((w) => w.about && partOf(w.about) === key).length;
  return (
    <nav class="views part-tabs" aria-label="Parts of the engine">
      {PARTS.map((p) => { const bad = count(p.key), look = notes(p.key); return (
        <a key={p.key} href={hash(p.key)} aria-current={at === p.key ? 'page' : undefined}>{p.title}{bad > 0 ? <b class="badge grave"> {tn('{n} wrong', '{n} wrong', bad)}</b> : look > 0 ? <b class="badge" title={tn('{n} thing to look at', '{n} things to look at', look)}> {look}</b> : null}</a>); })}
    </nav>
  );
}

/* Every fault at once, each with a way to its field. */
export function Faults({ faults, onGo }: { faults: Fault[]; onGo: (path: Path) => void }) {
  if (faults.length === 0) return null;
  return (
    <div class="said grave faults" role="status"><p>{tn('One field cannot be read. The rest can be kept; that one stays in the form.', '{n} fields cannot be read. The rest can be kept; those stay in the form.', faults.length)}</p>
      <ul>{faults.map((f) => <li key={f.path.join('.')}>{f.says} <button type="button" class="plain" onClick={() => { onGo(f.path); }}>{t('Go to {field}', { field: pathOf(...f.path).replace('.', ', ').replaceAll('_', ' ') })}</button></li>)}</ul></div>
  );
}
