/* Figures as people read them: units from the server's table, rounded to what they deserve. */
import { computed } from '@preact/signals';
import { book, units } from './state';
import { inWords, locale, t, dayOf } from './words';

const MINUS = '\u2212';
export const dash = '–';

/* A formatter a number of decimals: making one costs more than all it does after. */
const formats = new Map<number, Intl.NumberFormat>();
function formatOf(decimals: number): Intl.NumberFormat {
  let format = formats.get(decimals);
  if (!format) formats.set(decimals, format = new Intl.NumberFormat(locale(), { minimumFractionDigits: decimals, maximumFractionDigits: decimals }));
  return format;
}

export function fixed(value: number, decimals: number): string {
  const text = formatOf(decimals).format(value);
  return /[1-9]/.test(text) ? text.replace('-', MINUS) : text.replace('-', ''); /* a rounded nought has no sign */
}
export function rpm(value: number | null | undefined, step = 10): string {
  return value == null ? dash : fixed(Math.round(value / step) * step, 0);
}
export function percent(share: number | null | undefined, decimals = 1, signed = false): string {
  if (share == null) return dash;
  return (signed && share > 0 ? '+' : '') + fixed(100 * share, decimals) + '\u202f%';
}

const kindUnits = computed(() => new Map((book.value?.kinds ?? []).map((k) => [k.name, k[units.value]])));
const kindUnit = (kind: string) => kindUnits.value.get(kind) ?? { unit: '', scale: 1, offset: 0 };
/* "kg m2" as it is printed; both are read when somebody types them. */
export const raised = (text: string) => text.replace(/\b(mm|cm|m|s|rad|in|ft)([234])(?!\d)/g, (_all, unit: string, power: string) => unit + '²³⁴'[Number(power) - 2]!);
export const unitOf = (kind: string) => raised(kindUnit(kind).unit);
export function shown(kind: string, inside: number): number {
  const u = kindUnit(kind);
  return u.scale * inside + u.offset;
}
export function quantity(kind: string, inside: number | null | undefined, decimals: number): string {
  return inside == null ? dash : `${fixed(shown(kind, inside), decimals)}\u202f${unitOf(kind)}`;
}
/* Decimals that an expanded uncertainty leaves: two figures of it when it begins with 1, else one. */
export function decimalsFor(uncertainty: number): number {
  if (!(uncertainty > 0)) return 1;
  const power = Math.floor(Math.log10(uncertainty));
  const first = Math.floor(uncertainty / 10 ** power);
  return Math.max(0, (first === 1 ? 1 : 0) - power);
}
export function withUncertainty(kind: string, inside: number, expanded: number): string {
  const u = Math.abs(kindUnit(kind).scale) * expanded;
  const decimals = decimalsFor(u);
  return `${fixed(shown(kind, inside), decimals)} ± ${fixed(u, decimals)}\u202f${unitOf(kind)}`;
}
export function time(at: string | null | undefined): string { return at ? at.slice(11, 16) : dash; }
export function date(at: string | null | undefined): string { return at ? dayOf(at) : dash; }
/** "shut down: oil pressure lost", the action and the alarm's name, each in the reader's language. */
export const tripWords = (tripped: string) => tripped.split(': ').map(inWords).join(': ');
/** What lay between two pulls, by its key in answers. */
export function betweenPulls(level: string): string {
  const says: Record<string, string> = { consecutive: t('back to back'), restart: t('after a restart'), day: t('from day to day'), remount: t('after remounting') };
  return says[level] ?? level;
}
export function duration(seconds: number): string {
  return seconds >= 5400 ? `${fixed(seconds / 3600, 1)}\u202fh` : seconds >= 90 ? `${fixed(seconds / 60, 0)}\u202fmin` : `${fixed(seconds, 0)}\u202fs`;
}
/* "spark_deg" and the like: the kind that a key's suffix tells, for columns of a curve. */
const columnKinds: [string, string][] = [
  ['lambda', 'lambda'], ['bmep', 'mean effective pressure'], ['temperature', 'temperature'], ['oil_pressure', 'pressure gauge'],
  ['fuel_pressure', 'pressure gauge'], ['coolant_pressure', 'pressure gauge'], ['crankcase_pressure', 'pressure gauge'],
  ['manifold_pressure', 'pressure absolute'], ['bsfc', 'specific fuel'], ['fuel_flow', 'mass flow'],
  ['air_flow', 'mass flow'], ['exhaust_flow', 'mass flow'], ['blow_by', 'volume flow'], ['spark', 'angle'],
];
export function columnKind(key: string): string {
  return columnKinds.find(([part]) => key.includes(part))?.[1] ?? '';
}
export function columnLabel(key: string): string {
  const bare = key.replace(/_(pa|k|kg_s|m3_s|deg|kg_j|n_m)$/, '');
  const channels = book.value?.channels ?? {};
  const [, stem = bare, index] = /^(.*?)(?:_(\d+))?$/.exec(bare) ?? [];
  const label = channels[bare] ?? channels[stem];
  const own: Record<string, string> = { bmep: 'BMEP', bsfc: 'BSFC', ve: t('volumetric efficiency'), volumetric_efficiency: t('volumetric efficiency') };
  const text = label ?? own[bare] ?? bare.replaceAll('_', ' ');
  return index && channels[stem] && !channels[bare] ? `${text}, ${index}` : text;
}

/* Warnings that say the same of several pulls are said once: "pulls 8, 9, 10: was computed by ...". */
export function gathered(warnings: string[]): string[] {
  const by = new Map<string, string[]>();
  for (const w of warnings) {
    const [, pull, rest] = /^pull (\d+) (.+)$/.exec(w) ?? [];
    const key = rest ?? w;
    by.set(key, [...(by.get(key) ?? []), ...(pull ? [pull] : [])]);
  }
  return [...by].map(([rest, pulls]) => pulls.length === 0 ? rest : pulls.length === 1 ? `pull ${pulls[0]} ${rest}` : `pulls ${pulls.join(', ')}: each ${rest}`);
}

/* The server's sentences with a typographic minus before figures. */
export function words(text: string): string { return text.replace(/(^|[\s(])-(?=\d)/g, '$1' + MINUS); }
/* Behind a highest figure that lies at an end of its curve. */
export const atEnd = (end: boolean) => end ? ' ' + t('(at an end of the curve: the highest may lie beyond)') : '';
