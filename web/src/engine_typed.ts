/* An engine as it was typed: compared, merged, and a bare figure given the unit that stands beside its field. */
import type { Field, FieldGroup, Typed } from './api';
import { put, read, type Path } from './engine_faults';
import { unitOf } from './format';
import { units } from './state';

export function write(typed: Typed, path: Path, text: string, list: boolean): Typed {
  return put(typed, path, text.trim() === '' ? undefined : list ? text.split(',').map((one) => one.trim()).filter(Boolean) : text);
}

/* "cam.advance" -> what was typed there. */
export function flat(typed: Typed, group = ''): Map<string, string> {
  const all = new Map<string, string>();
  for (const [key, value] of Object.entries(typed)) {
    if (typeof value === 'string') all.set(group + key, value);
    else if (Array.isArray(value)) all.set(group + key, value.join(', '));
    else flat(value, key + '.').forEach((v, k) => all.set(k, v));
  }
  return all;
}
export const sameTyped = (p: Typed, q: Typed) => { const a = flat(p), b = flat(q); return a.size === b.size && [...a].every(([k, v]) => b.get(k) === v); };

/* Theirs, with what was changed here since `base` put into it. */
export function merged(base: Typed, mine: Typed, theirs: Typed, isList: (path: string) => boolean): Typed {
  const from = flat(base), own = flat(mine);
  return [...new Set([...from.keys(), ...own.keys()])].filter((k) => from.get(k) !== own.get(k)).reduce((next, k) => {
    const [field, group = ''] = k.split('.').reverse();
    return write(next, [group, field!], own.get(k) ?? '', isList(k));
  }, theirs);
}

/* Kinds whose bare figure means nothing to the server. A ratio, a count, lambda and the like are bare figures of their own. */
const UNITED = new Set(['length', 'volume', 'mass', 'torque', 'power', 'rotational speed', 'angle', 'force', 'stiffness', 'inertia', 'volume flow', 'pressure difference', 'pressure absolute', 'pressure gauge', 'temperature', 'temperature difference', 'time', 'torsional stiffness', 'specific fuel', 'density', 'speed', 'mass flow']);
/* A volume in US units has none: chambers are measured in cc there, displacements in cid, and a bare figure may be either. */
export const unitFor = (f: Field) => (f.type === 'quantity' || f.type === 'numbers') && UNITED.has(f.kind) && !(f.kind === 'volume' && units.value === 'us') ? unitOf(f.kind) : '';
const one = (text: string, unit: string) => /^[-+\u2212]?(\d+[.,]?\d*|[.,]\d+)$/.test(text.trim()) ? `${text.trim()} ${unit}` : text;
export function united(f: Field, text: string): string {
  const unit = unitFor(f);
  return !unit || text.trim() === '' ? text : f.type === 'numbers' ? text.split(',').map((part) => one(part, unit).trim()).join(', ') : one(text, unit);
}
/* The whole engine, as it is sent. */
export function unitedAll(typed: Typed, groups: FieldGroup[]): Typed {
  return groups.reduce((next, g) => g.fields.reduce((so, f) => {
    const text = read(so, [g.key, f.name]), full = united(f, text);
    return full === text ? so : write(so, [g.key, f.name], full, f.type === 'numbers');
  }, next), typed);
}
