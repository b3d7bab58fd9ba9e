/* Every field of an engine that cannot be read, at once: the server names the first, and this goes on without it. What is left
 * can be kept and worked out, with the value of the book in the place of each of those. */
import { api, Refusal, type EngineCheck, type Typed } from './api';

export type Path = [group: string, field: string];
export interface Fault { path: Path; says: string }

export function read(typed: Typed, [group, field]: Path): string {
  const home = group ? typed[group] : typed;
  const value = home && typeof home === 'object' && !Array.isArray(home) ? (home as Typed)[field] : undefined;
  return Array.isArray(value) ? value.join(', ') : typeof value === 'string' ? value : '';
}
/* `value`: as it stands in a typed engine; undefined takes the field out. */
export function put(typed: Typed, [group, field]: Path, value: string | string[] | Typed | undefined): Typed {
  const home: Typed = { ...(group ? (typed[group] as Typed | undefined) ?? {} : typed) };
  if (value === undefined) delete home[field]; else home[field] = value;
  if (!group) return home;
  const next = { ...typed };
  if (Object.keys(home).length) next[group] = home; else delete next[group];
  return next;
}
const valueOf = (typed: Typed, [group, field]: Path) => group ? (typed[group] as Typed | undefined)?.[field] : typed[field];

function faultOf(problem: Refusal): Fault | null {
  if (!problem.field) return null;
  const [group, field] = problem.field.includes('.') ? problem.field.split('.') as [string, string] : ['', problem.field];
  return { path: [group, field], says: problem.message };
}

const MOST = 40;
export interface Readable { typed: Typed; faults: Fault[]; check: EngineCheck }
/** `base`: what the book holds. Throws what is no fault of a field. */
export async function readable(typed: Typed, base: Typed, units: string, ask: (typed: Typed) => Promise<EngineCheck> = (t) => api.engineCheck(t, units)): Promise<Readable> {
  const faults: Fault[] = [];
  for (let now = typed; ;) {
    try { return { typed: now, faults, check: await ask(now) }; } catch (problem) {
      const fault = problem instanceof Refusal && problem.status === 400 && faults.length < MOST ? faultOf(problem) : null;
      if (!fault) throw problem;
      const tried = faults.some((f) => f.path.join('.') === fault.path.join('.'));
      if (!tried) faults.push(fault);
      now = put(now, fault.path, tried ? undefined : valueOf(base, fault.path)); /* nor can what the book holds be read: then without it */
    }
  }
}
