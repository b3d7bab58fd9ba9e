/* What follows from an engine: the figures of the part at hand that are looked at first, and the rest behind "all". */
import { useMemo } from 'preact/hooks';
import type { EngineCheck } from './api';
import { fixed, raised, shown, unitOf } from './format';
import { FIRST_FIGURES } from './engine_parts';
import { units } from './state';
import { tn } from './words';

function decimals(value: number): number {
  const size = Math.abs(value);
  return size >= 1000 ? 0 : size >= 100 ? 1 : size >= 1 ? 2 : 3;
}
export function figure(kind: string, value: number | null): string {
  if (value == null) return '–';
  const v = shown(kind, value);
  const text = fixed(v, kind === 'rotational speed' ? 0 : decimals(v)).replace(/(\.\d*?)0+$/, '$1').replace(/\.$/, '');
  return `${text}\u202f${unitOf(kind)}`.trim();
}

export interface FigureRow { key: string; label: string; text: string; pairs?: [string, string][]; confidence: string; method: string }
type Values = Record<string, number | null | (number | null)[]>;

/* A figure over speed has its speeds under the same key with "_speeds": two columns of one table. */
export function rowsOf(check: EngineCheck): Map<string, FigureRow[]> {
  const sections = new Map<string, FigureRow[]>(), values = check as unknown as Values;
  for (const [key, about] of Object.entries(check.about)) {
    const value = values[key], list = Array.isArray(value) ? value.map((v) => figure(about.kind, v)) : null;
    if (key.endsWith('_speeds')) continue; /* told beside its figures */
    const over = check.about[key + '_speeds'], speeds = values[key + '_speeds'] as (number | null)[] | undefined;
    const pairs = list && over && speeds ? list.map((v, i): [string, string] => [figure(over.kind, speeds[i] ?? null), v]) : null;
    const row = { key, label: raised(about.label), text: list ? list.join(', ') : figure(about.kind, (value as number | null) ?? null), confidence: about.confidence, method: about.method };
    sections.set(about.section, [...(sections.get(about.section) ?? []), pairs ? { ...row, pairs } : row]);
  }
  return sections;
}

function Rows({ rows }: { rows: FigureRow[] }) {
  return <dl class="facts">{rows.map((r) => <div key={r.key}><dt>{r.label}</dt><dd>{r.pairs
    ? <>{r.pairs.map(([at, v]) => <span key={at} class="pair"><span>{at}</span><span>{v}</span></span>)}</> : r.text} <span class="quiet" title={r.method}>{r.confidence}</span></dd></div>)}</dl>;
}

export function Figures({ check, sections }: { check: EngineCheck; sections: string[] }) {
  const all = useMemo(() => [...rowsOf(check)], [check, units.value]);
  return <>{all.filter(([section]) => sections.includes(section)).map(([section, rows]) => {
    const first = rows.filter((r) => FIRST_FIGURES.has(r.key)), rest = rows.filter((r) => !FIRST_FIGURES.has(r.key));
    return (
      <section key={section} class="card"><h2>{section}</h2>
        <Rows rows={first} />
        {rest.length > 0 && <details class="more-fields"><summary>{tn('All: {n} more', 'All: {n} more', rest.length)}</summary><Rows rows={rest} /></details>}
      </section>);
  })}</>;
}
