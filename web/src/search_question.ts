/* A question to the search as it is typed, row by row, and as the server is asked. Kept while another screen is looked at. */
import { signal } from '@preact/signals';
import type { SearchAnswer } from './api';
import { inWords } from './words';

export interface ChangeRow { id: number; field: string; from: string; to: string; step: string }
export interface PartRow { id: number; place: string; name: string; price: string; sets: string }
export interface WishRow { id: number; figure: string; from: string; to: string }
export interface LimitRow { id: number; figure: string; least: string; most: string }
export interface StoodRow { id: number; field: string; from: string; to: string }
export interface Asking { stood: StoodRow[]; changes: ChangeRow[]; parts: PartRow[]; wishes: WishRow[]; limits: LimitRow[]; speeds: string; idle: string; spark: string; first: string; rounds: string }

let last = 0;
export const nextId = () => ++last;
export const FIGURES = ['torque', 'power', 'octane', 'fuel', 'residual', 'peak_pressure', 'exhaust_temperature', 'price', 'piston_speed', 'inlet_clearance', 'exhaust_clearance', 'contact_loss'];
/* A change by the name that people read, where it has one: what is typed may be that, or any figure by its name in the engine's file. */
export const changeName = (key: string, known: string[]): string => known.includes(key) ? inWords(key.replaceAll('_', ' ')) : key;
export const changeKey = (text: string, known: string[]): string => known.find((key) => changeName(key, known).toLowerCase() === text.trim().toLowerCase()) ?? text;
export const isMean = (figure: string) => figure === 'torque' || figure === 'fuel';

export const asking = signal<Asking>({
  changes: [{ id: nextId(), field: 'runner_length', from: '', to: '', step: '' }, { id: nextId(), field: 'primary_length', from: '', to: '', step: '' }, { id: nextId(), field: 'compression', from: '', to: '', step: '' }],
  parts: [], stood: [], wishes: [{ id: nextId(), figure: 'torque', from: '', to: '' }, { id: nextId(), figure: 'power', from: '', to: '' }],
  limits: [{ id: nextId(), figure: 'octane', least: '', most: '' }], speeds: '', idle: '', spark: 'mbt', first: '40', rounds: '3',
});
export const found = signal<{ engine: number; answer: SearchAnswer } | null>(null);

const given = (entries: [string, string][]) => Object.fromEntries(entries.filter(([, value]) => value.trim() !== '').map(([key, value]) => [key, value.trim()]));
/* "a; b" or "a, b" where a comma is not a decimal one: a semicolon is never in a figure. */
const split = (text: string) => text.split(text.includes(';') ? ';' : ',').map((one) => one.trim()).filter(Boolean);
/* Speeds without a unit are rpm. */
const asSpeed = (text: string) => text.trim() === '' || /[a-z/]/i.test(text) ? text : `${text} rpm`;

/* "inlet.duration=268 deg; inlet.lobe_lift=7.1 mm" */
const setsOf = (text: string) => Object.fromEntries(text.split(';').map((one) => one.split('=').map((side) => side.trim())).filter(([name]) => name).map(([name, value]) => [name!, value ?? '']));

/* A part that says nothing but its name is one of the shop's shelf; a place alone takes all that the shelf has for it. */
const partsOf = (parts: PartRow[]) => parts.every((p) => !p.name.trim() && !p.sets.trim()) ? 'all'
  : parts.map((p) => p.sets.trim() ? { ...given([['name', p.name], ['price', p.price]]), set: setsOf(p.sets) } : p.name.trim());

export function questionOf(a: Asking): object {
  const places = [...new Set(a.parts.map((p) => p.place.trim()).filter(Boolean))];
  return {
    change: a.changes.filter((c) => c.from.trim() || c.to.trim()).map((c) => given([['field', c.field], ['from', c.from], ['to', c.to], ['step', c.step]])),
    ...(places.length ? { shelf: places.map((place) => ({ place, parts: partsOf(a.parts.filter((p) => p.place.trim() === place)) })) } : {}),
    want: a.wishes.map((w) => given([['figure', w.figure], ['from', isMean(w.figure) ? asSpeed(w.from) : ''], ['to', isMean(w.figure) ? asSpeed(w.to) : '']])),
    ...(a.limits.some((l) => l.least.trim() || l.most.trim()) ? { limits: a.limits.filter((l) => l.least.trim() || l.most.trim()).map((l) => given([['figure', l.figure], ['least', l.least], ['most', l.most]])) } : {}),
    ...(a.stood.some((r) => r.field.trim()) ? { envelope: a.stood.filter((r) => r.field.trim()).map((r) => given([['field', r.field], ['from', r.from], ['to', r.to]])) } : {}),
    ...(a.speeds.trim() ? { speeds: split(a.speeds).map(asSpeed) } : {}),
    ...given([['idle', asSpeed(a.idle)], ['spark', a.spark]]),
  };
}
