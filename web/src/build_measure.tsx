/* Measurements against their targets, each on its band: what is wanted in the middle, what was read as a needle with its doubt. The form
 * proposes the next place, never a reading; a place that was read already, and a figure out of all reach, are asked about. */
import { useState } from 'preact/hooks';
import { api, Refusal, type BuildBegun, type BuildLine } from './api';
import { changes, complain, units } from './state';
import { stamp } from './clock';
import { useDraft } from './draft';
import { words } from './format';
import { t, tn } from './words';

const nameOf = (l: { item: string; stage: string | null }) => l.item + (l.stage ? ', ' + l.stage : '');

/* The figure on its target: the band in the middle, where the reading stands, its uncertainty. One-sided targets end at the band's one edge. */
export function Band({ line }: { line: BuildLine }) {
  if (line.mean == null || (line.low == null && line.high == null)) return null;
  const low = line.low ?? line.high! - 2 * Math.abs(line.high! - line.mean || 1e-6), high = line.high ?? line.low! + 2 * Math.abs(line.mean - line.low! || 1e-6);
  const span = high - low || 1e-9, at = (v: number) => Math.min(Math.max(25 + 50 * (v - low) / span, 1), 99);
  const u = line.expanded ?? 0, near = line.verdict === 'near the limit';
  return (
    <svg class={'band ' + (near ? 'near' : line.verdict)} viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
      <rect class="track" y="4" width="100" height="2" /><rect class="allowed" x={line.low == null ? 0 : 25} y="1.5" width={line.low == null ? 75 : line.high == null ? 75 : 50} height="7" />
      {u > 0 && <rect class="doubt" x={at(line.mean - u)} y="3.5" width={Math.max(at(line.mean + u) - at(line.mean - u), .5)} height="3" />}
      <rect class="needle" x={at(line.mean) - .6} width="1.2" height="10" />
    </svg>
  );
}
const targetOf = (l: BuildLine) => l.low_shown && l.high_shown ? t('{low} to {high}', { low: l.low_shown, high: l.high_shown })
  : l.high_shown ? t('at most {high}', { high: l.high_shown }) : l.low_shown ? t('at least {low}', { low: l.low_shown }) : '';

/* How the build stands, before any list is opened. */
function Sum({ lines }: { lines: BuildLine[] }) {
  const count = (verdict: string) => lines.filter((l) => l.verdict === verdict).length;
  const out = count('out'), near = count('near the limit'), missing = lines.filter((l) => l.mean == null).length;
  return (
    <p class="tally">
      <b class={out ? 'grave-word' : 'quiet'}>{tn('{n} out', '{n} out', out)}</b> <b class={near ? 'near-word' : 'quiet'}>{tn('{n} near its limit', '{n} near their limits', near)}</b> <span class="quiet">{tn('{n} to be measured', '{n} to be measured', missing)}</span>
    </p>
  );
}

export function Measurements({ build, away }: { build: BuildBegun; away: boolean }) {
  const items = [...new Set(build.measurements.map(nameOf))];
  const [open, setOpen] = useState('');
  return (
    <section class="card">
      <h2>Measurements</h2>
      <Sum lines={build.measurements} />
      {!away && <AddMeasure build={build} />}
      {items.map((item) => {
        const lines = build.measurements.filter((m) => nameOf(m) === item), first = lines[0];
        const out = lines.filter((l) => l.verdict === 'out').length, near = lines.filter((l) => l.verdict === 'near the limit').length, missing = lines.filter((l) => l.mean == null).length;
        return (
          <details key={item} class="item" open={open === item || out > 0} onToggle={(e) => { if (e.currentTarget.open) setOpen(item); }}>
            <summary><b>{item}</b> <span class={out ? 'grave-word' : near ? 'near-word' : 'quiet'}>{out ? t('{n} out of target', { n: out }) : near ? tn('{n} near its limit', '{n} near their limits', near) : missing === lines.length ? t('not measured') : missing ? t('{n} missing', { n: missing }) : t('all in')}</span></summary>
            <table class="list"><tbody>{lines.map((l) => (
              <tr key={l.position}><th scope="row">{l.position}</th><td class="num">{l.shown ?? '–'}</td><td class="num quiet">{targetOf(l)}</td><td class="bar-cell"><Band line={l} /></td><td class={l.verdict === 'out' ? 'grave-word' : l.verdict === 'near the limit' ? 'near-word' : ''}>{l.verdict}</td></tr>))}</tbody></table>
            {first?.from && <p class="quiet">{t('Target: {from}', { from: first.from })}</p>}
            {out > 0 && first?.caution && <ul class="mind"><li>{first.caution}</li></ul>}
          </details>
        );
      })}
    </section>
  );
}

/* "0.058" where the field says mm is 0.058 mm; what carries a unit keeps it. */
const withUnit = (text: string, unit: string) => unit && /^[-+\u2212]?[\d.,]+$/.test(text.trim()) ? `${text.trim()} ${unit}` : text.trim();
const unitIn = (l: BuildLine | undefined) => (l?.low_shown ?? l?.high_shown ?? l?.shown)?.split(/[\s\u202f]/).pop() ?? '';
const MORE = [
  { key: 'stage', label: 'Stage', hint: 'after honing' }, { key: 'instrument', label: 'Measured with', hint: 'bore gauge' }, { key: 'resolution', label: 'Smallest step it shows', hint: '0.001 mm' },
  { key: 'low', label: "Maker's least", hint: '0.050 mm' }, { key: 'high', label: "Maker's most", hint: '0.080 mm' }, { key: 'from', label: 'Whose figure that is', hint: 'the bearing maker' },
  { key: 'conditions', label: 'Conditions', hint: 'torque plate on, 20 degC' }, { key: 'who', label: 'Who', hint: '' }, { key: 'note', label: 'Remark', hint: '' },
];

/* What an item that the template lacks may be: the server asks for it. */
const MEASURED = ['length', 'force', 'torque', 'volume', 'volume flow', 'pressure', 'mass', 'angle', 'ratio'];
interface Asked { says: string; place: boolean }

/* A figure out of all reach, and a place that was read already, are asked about (422, at `position`) and kept when somebody says that it is so. */
function AddMeasure({ build }: { build: BuildBegun }) {
  const [item, setItem] = useDraft('measure-item', '');
  const [position, setPosition] = useDraft('measure-position', '');
  const [readings, setReadings] = useDraft('measure-readings', '');
  const [more, setMore] = useDraft<Record<string, string>>('measure-more', {});
  const [asked, setAsked] = useState<Asked | null>(null), [wrong, setWrong] = useState<string | null>(null);
  const [last, setLast] = useState<{ item: string; position: string } | null>(null);
  const stage = more['stage']?.trim() ?? '', items = [...new Set(build.measurements.map((m) => m.item))];
  const places = build.measurements.filter((m) => m.item.toLowerCase() === item.trim().toLowerCase() && (m.stage ?? '') === stage);
  const here = places.find((m) => m.position === position.trim()), target = here ?? places[0], unit = unitIn(target);
  const next = build.measurements.find((m) => m.mean == null && !m.stage);
  const was = last && build.measurements.find((m) => m.item === last.item && m.position === last.position && (m.stage ?? '') === stage);
  const [sure, setSure] = useState(false);
  const unknown = item.trim() !== '' && !items.some((i) => i.toLowerCase() === item.trim().toLowerCase());
  const keepIt = (isSure: boolean, first: boolean) => {
    const typed = Object.fromEntries(Object.entries(more).filter(([, text]) => text.trim() !== '').map(([key, text]) => [key, ['low', 'high', 'resolution'].includes(key) ? withUnit(text, unit) : text.trim()]));
    api.buildRecord('measured', { item: item.trim(), position: position.trim(), readings: readings.split(/[,;]\s+|;/).map((r) => withUnit(r, unit)).filter(Boolean), at: stamp(), ...typed, ...(isSure ? { sure: 'yes' } : {}) }, '', first)
      .then((kept) => {
        const at = kept.position ?? position.trim(), after = places.find((m) => m.mean == null && m.position !== at);
        setLast({ item: target?.item ?? item.trim(), position: at });
        changes.value++; setReadings(''); setMore(({ kind: _of_this_item, ...old }) => old); setAsked(null); setWrong(null); setSure(false); setPosition(after?.position ?? '');
      }, (problem: unknown) => { if (problem instanceof Refusal && problem.status === 422) { setSure(isSure); setAsked({ says: problem.message.replace(/^record: /, ''), place: problem.field === 'position' }); } else if (problem instanceof Refusal && problem.status === 400) setWrong(problem.message.replace(/^record: /, '')); else complain(problem); });
  };
  const typed = (set: (v: string) => void) => (e: { currentTarget: HTMLInputElement }) => { set(e.currentTarget.value); setAsked(null); setWrong(null); setSure(false); };
  return (
    <form class="measure" onSubmit={(e) => { e.preventDefault(); keepIt(false, true); }}>
      {!item && next && <p class="tools"><button type="button" onClick={() => { setItem(next.item); setPosition(next.position); }}>{t('Next: {item}, {position}', { item: next.item, position: next.position })}</button></p>}
      <div class="line-form">
        <label>Add <input required list="items" value={item} placeholder="item" onInput={typed(setItem)} /></label>
        <datalist id="items">{items.map((i) => <option key={i} value={i} />)}</datalist>
        <label>At <input required list="places" value={position} placeholder="main 3, 4 exhaust" onInput={typed(setPosition)} /></label>
        <datalist id="places">{places.map((p) => <option key={p.position} value={p.position}>{p.mean == null ? t('not measured') : p.shown}</option>)}</datalist>
        <label>{unit ? t('Reads, {unit}', { unit }) : t('Reads')} <input required value={readings} placeholder={units.value === 'us' ? '0.0023, 0.0024' : '0.058 mm, 0.059 mm'} onInput={typed(setReadings)} /></label>
        <button type="submit">Keep</button>
      </div>
      {wrong && <p class="problem" role="alert">{words(wrong)}</p>}
      {unknown && (wrong || more['kind']) && <label>Kind <select value={more['kind'] ?? ''} onChange={(e) => { const kind = e.currentTarget.value; setMore((old) => ({ ...old, kind })); }}><option value="" />{MEASURED.map((kind) => <option key={kind} value={kind}>{kind}</option>)}</select></label>}
      {target && <p class="quiet measure-target">{[targetOf(target) ? t('Wanted: {target} ({from})', { target: targetOf(target), from: target.from ?? '' }) : t('No target is known.'), here?.shown ? t('Read before: {shown}.', { shown: here.shown }) : ''].filter(Boolean).join(' ')}</p>}
      <details class="more-fields"><summary>Stage, instrument, maker's figure</summary>
        <div class="stack">{MORE.map((f) => <label key={f.key}>{f.label} <input value={more[f.key] ?? ''} placeholder={f.hint} onInput={(e) => { const text = e.currentTarget.value; setMore((old) => ({ ...old, [f.key]: text })); setAsked(null); }} /></label>)}</div>
      </details>
      {asked && <p class="problem" role="alert">{words(asked.says)} <button type="button" onClick={() => { keepIt(sure || !asked.place, !asked.place); }}>{asked.place ? t('It takes the place of the first') : t('That is right: keep it')}</button></p>}
      {was && <p class={'measured-last ' + (was.verdict === 'out' ? 'out' : was.verdict === 'near the limit' ? 'near' : '')} role="status"><b>{`${was.item}, ${was.position}: ${was.shown ?? ''}`}</b> <span>{was.verdict}</span> <Band line={was} /></p>}
    </form>
  );
}
