/* The combination: a form from the field table, any unit in any field, what follows as you type. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { api, isGone, Refusal, type EngineCheck, type Field, type FieldGroup, type Message, type Typed } from './api';
import { answered, isKept, showsNoMore } from './kept';
import { clockAndAgo, stamp } from './clock';
import { markChanged, readDraft, writeDraft } from './draft';
import { put, read, readable, type Fault, type Path } from './engine_faults';
import { book, changes, complain, go, handed, loadBook, route, say, units } from './state';
import { fixed, raised, shown, unitOf, words } from './format';
import { Plot, type Line } from './plot';
import { CompressionCard } from './compression';
import { ValveEventsCard } from './valve_events';
import { t, tn, tx } from './words';

function write(typed: Typed, path: Path, text: string, list: boolean): Typed {
  return put(typed, path, text.trim() === '' ? undefined : list ? text.split(',').map((t) => t.trim()).filter(Boolean) : text);
}

function Input({ field, group, typed, problem, warnings, onEdit }: { field: Field; group: string; typed: Typed; problem: string | null; warnings: Message[]; onEdit: (path: Path, text: string, list: boolean) => void }) {
  const id = `f-${group}-${field.name}`, text = read(typed, [group, field.name]);
  const change = (e: { currentTarget: { value: string } }) => onEdit([group, field.name], e.currentTarget.value, field.type === 'numbers');
  const hint = field.examples?.split(', ')[0];
  return (
    <div class={'field' + (problem ? ' wrong' : '')}>
      <label for={id}>{field.name.replaceAll('_', ' ')}</label>
      {field.choices || field.type === 'boolean'
        ? <select id={id} value={text} onChange={change} aria-describedby={id + '-help'}><option value="">{field.default ? t('{value} (default)', { value: t(field.default) }) : ''}</option>{(field.choices ?? ['yes', 'no']).map((c) => <option key={c} value={c}>{c}</option>)}</select>
        : <input id={id} value={text} onInput={change} placeholder={field.default ? t('{value} (default)', { value: field.default }) : hint ? t('for example {value}', { value: field.type === 'numbers' ? `${hint}, …` : hint }) : ''} aria-describedby={id + '-help'} aria-invalid={problem ? 'true' : undefined} autocomplete="off" spellcheck={false} />}
      <p id={id + '-help'} class="help">{field.help}{field.range ? ` (${raised(field.range)})` : ''}{field.origin ? ` · ${t(field.origin)}` : ''}</p>
      {problem && <p class="problem">{problem}</p>}
      {warnings.map((w) => <p key={w.text} class={'warned ' + w.severity}>{t(w.severity)}: {words(w.text)}</p>)}
    </div>
  );
}

/* "cam.advance" -> what was typed there. */
function flat(typed: Typed, group = ''): Map<string, string> {
  const all = new Map<string, string>();
  for (const [key, value] of Object.entries(typed)) {
    if (typeof value === 'string') all.set(group + key, value);
    else if (Array.isArray(value)) all.set(group + key, value.join(', '));
    else flat(value, key + '.').forEach((v, k) => all.set(k, v));
  }
  return all;
}
const sameTyped = (p: Typed, q: Typed) => { const a = flat(p), b = flat(q); return a.size === b.size && [...a].every(([k, v]) => b.get(k) === v); };

/* Theirs, with what was changed here since `base` put into it. */
function merged(base: Typed, mine: Typed, theirs: Typed, isList: (path: string) => boolean): Typed {
  const from = flat(base), own = flat(mine);
  return [...new Set([...from.keys(), ...own.keys()])].filter((k) => from.get(k) !== own.get(k)).reduce((next, k) => {
    const [field, group = ''] = k.split('.').reverse();
    return write(next, [group, field!], own.get(k) ?? '', isList(k));
  }, theirs);
}

/* What two people typed at once: each field in which they differ, and ways out of which none loses anything. */
function Conflict({ says, base, mine, theirs, onTheirs, onBoth, onMine }: { says: string; base: Typed; mine: Typed; theirs: Typed; onTheirs: () => void; onBoth: () => void; onMine: () => void }) {
  const from = flat(base), own = flat(mine), other = flat(theirs), keys = [...new Set([...own.keys(), ...other.keys()])].filter((k) => own.get(k) !== other.get(k));
  const both = keys.filter((k) => own.get(k) !== from.get(k) && other.get(k) !== from.get(k));
  const name = (k: string) => k.replace('.', ', ').replaceAll('_', ' ');
  return (
    <section class="said grave conflict" role="alert" aria-label="Two people changed this engine">
      <p>{says}</p>
      <ul>{keys.slice(0, 12).map((k) => <li key={k}>{name(k)}: <span translate={false}>{t('theirs {theirs}, yours {yours}', { theirs: other.get(k) ?? t('empty'), yours: own.get(k) ?? t('empty') })}</span>{both.includes(k) ? ' ' + t('(changed by both)') : ''}</li>)}{keys.length > 12 && <li>{t('and {n} more', { n: keys.length - 12 })}</li>}</ul>
      <p class="tools"><button type="button" onClick={onBoth}>Put my changes into theirs</button><button type="button" onClick={onTheirs}>Load theirs</button><button type="button" onClick={onMine}>Replace theirs with mine</button></p>
    </section>
  );
}

function decimals(value: number): number {
  const size = Math.abs(value);
  return size >= 1000 ? 0 : size >= 100 ? 1 : size >= 1 ? 2 : 3;
}
function figure(kind: string, value: number | null): string {
  if (value == null) return '–';
  const v = shown(kind, value);
  const text = fixed(v, kind === 'rotational speed' ? 0 : decimals(v)).replace(/(\.\d*?)0+$/, '$1').replace(/\.$/, '');
  return `${text}\u202f${unitOf(kind)}`.trim();
}

interface FigureRow { key: string; label: string; text: string; pairs?: [string, string][]; confidence: string; method: string }

/* A figure over speed has its speeds under the same key with "_speeds": two columns of one table. */
function rowsOf(check: EngineCheck): Map<string, FigureRow[]> {
  const sections = new Map<string, FigureRow[]>();

  for (const [key, about] of Object.entries(check.about)) {
    const value = (check as unknown as Record<string, number | null | (number | null)[]>)[key];
    const list = Array.isArray(value) ? value.map((v) => figure(about.kind, v)) : null;
    if (key.endsWith('_speeds')) continue; /* told beside its figures */
    const over = check.about[key + '_speeds'], speeds = (check as unknown as Record<string, (number | null)[]>)[key + '_speeds'];
    const pairs = list && over && speeds ? list.map((v, i): [string, string] => [figure(over.kind, speeds[i] ?? null), v]) : null;
    const row = { key, label: raised(about.label), text: list ? list.join(', ') : figure(about.kind, (value as number | null) ?? null), confidence: about.confidence, method: about.method };
    sections.set(about.section, [...(sections.get(about.section) ?? []), pairs ? { ...row, pairs } : row]);
  }
  return sections;
}

function Figures({ check }: { check: EngineCheck }) {
  const sections = useMemo(() => [...rowsOf(check)], [check, units.value]);
  return <>{sections.map(([section, rows]) => (
    <section key={section} class="card"><h2>{section}</h2>
      <dl class="facts">{rows.map((r) => <div key={r.key}><dt>{r.label}</dt><dd>{r.pairs
        ? <>{r.pairs.map(([at, v]) => <span key={at} class="pair"><span>{at}</span><span>{v}</span></span>)}</> : r.text} <span class="quiet" title={r.method}>{r.confidence}</span></dd></div>)}</dl>
    </section>
  ))}</>;
}

function Drawings({ check }: { check: EngineCheck }) {
  const c = check.curves, length = Math.abs(shown('length', 1) - shown('length', 0));
  const line = (y: (number | null)[] | undefined, label: string, ink: 'blue' | 'ochre', dash?: number[]): Line[] => y
    ? [{ label, name: label, x: c.angle_deg, y: y.map((v) => v == null ? null : v * length), ink, atPeak: true, ...(dash ? { dash } : {}), decimals: 2 }] : [];
  const lift = useMemo(() => [...line(c.exhaust_lift_m, 'exhaust', 'ochre', [8, 5]), ...line(c.inlet_lift_m, 'inlet', 'blue')], [check, units.value]);
  const near = useMemo(() => {
    const cut = (v: (number | null)[] | undefined) => v?.map((y, i) => Math.abs(c.angle_deg[i]!) <= 60 ? y : null);
    return [...line(cut(c.exhaust_clearance_m), 'exhaust', 'ochre', [8, 5]), ...line(cut(c.inlet_clearance_m), 'inlet', 'blue')].map((l) => {
      const keep = l.x.map((_x, i) => l.y[i] != null);
      return { ...l, atPeak: false, x: l.x.filter((_x, i) => keep[i]), y: l.y.filter((_y, i) => keep[i]) };
    });
  }, [check, units.value]);
  return (<>
    {lift.length > 0 && <Plot title={t('valve lift, {unit}, against crank angle; 0 is top dead centre on overlap', { unit: unitOf('length') })} lines={lift} height={240} xLabel="degrees" left={unitOf('length')} sync="cam" floor />}
    {near.length > 0 && <Plot title={t('valve to piston, {unit}, around overlap, with running lash', { unit: unitOf('length') })} lines={near} height={220} xLabel="degrees" left={unitOf('length')} sync="cam" zero />}
  </>);
}

interface Draft { typed: Typed; base: Typed; version: string | null; at: string }

export function EngineScreen() {
  const [groups, setGroups] = useState<FieldGroup[] | null>(null);
  const [typed, setTyped] = useState<Typed>({});
  const [kept, setKept] = useState<Typed>({});
  const [version, setVersion] = useState<string | null>(null);
  const [check, setCheck] = useState<EngineCheck | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [faults, setFaults] = useState<Fault[]>([]);
  const [missing, setMissing] = useState<string | null>(null);
  const [restored, setRestored] = useState<string | null>(null);
  const [conflict, setConflict] = useState<{ says: string; theirs: Typed; version: string } | null>(null);
  const past = useRef<Typed[]>([]);
  const loaded = useRef<number | null>(null); /* whose fields stand in the form */
  const asked = route.value.query.get('engine'), inCell = book.value?.engine_id ?? 0, system = units.value;
  const id = asked === 'new' ? 0 : asked ? Number(asked) || -1 : inCell, away = id > 0 && id !== inCell, draft = id ? `engine-${id}` : 'engine-new';
  const edited = !sameTyped(typed, kept);

  const show = (next: Typed, base: Typed, of: string | null) => { setTyped(next); setKept(base); setVersion(of); setConflict(null); setRestored(null); setMissing(null); past.current = next === base ? [] : [base]; loaded.current = id; };
  /* What was typed on this device and not kept stands again, over what it was typed over; when the book has moved on, that is said. */
  const restore = (d: Draft, book: { typed: Typed; version: string } | null) => {
    show(d.typed, d.base, d.version);
    setRestored(d.at);
    if (book && book.version !== d.version && !sameTyped(book.typed, d.base)) setConflict({ says: t('Somebody else has changed this engine since you typed here.'), theirs: book.typed, version: book.version });
  };
  const load = () => {
    const d = readDraft<Draft>(draft), mine = handed.value;
    handed.value = null;
    if (!id) { if (d) restore(d, null); else show({}, {}, null); return; }
    answered(`engine-${id}`, () => api.engine(id)).then((e) => {
      if (mine) show(mine, e.typed, e.version);
      else if (d && !sameTyped(d.typed, e.typed)) restore(d, e);
      else show(e.typed, e.typed, e.version);
    }, (why: Error) => { loaded.current = null; setMissing(why.message); });
  };
  useEffect(() => {
    if (loaded.current !== id) return;
    writeDraft<Draft>(draft, edited ? { typed, base: kept, version, at: stamp() } : null);
    markChanged('engine', edited);
  }, [typed, kept, version, edited]);
  useEffect(() => { answered('engine-fields', api.engineFields).then((r) => setGroups(r.groups), complain); return () => { ['engine-fields', `engine-${id}`, `figures-${id}-${system}`].forEach(showsNoMore); }; }, [id, system]);
  const shownId = useRef(id), versionNow = useRef(version), keeping = useRef(false);
  versionNow.current = version;
  /* What somebody else keeps shows at once: in the form, or when it is being edited here beside it. What is the same is no conflict. */
  const look = (says: string) => api.engine(id).then((e) => {
    if (e.version === versionNow.current) setConflict(null); /* by the version of now: one's own keeping may have come between */
    else if (sameTyped(e.typed, now.current)) show(e.typed, e.typed, e.version);
    else setConflict({ says, theirs: e.typed, version: e.version });
  }, complain);
  const now = useRef(typed);
  now.current = typed;
  useEffect(() => {
    if (!edited || shownId.current !== id || loaded.current !== id) load(); else if (id && !keeping.current) void look(t('Somebody else has changed this engine meanwhile.'));
    shownId.current = id;
  }, [id, changes.value]);
  /* Without the server the figures of what stands in the book may be shown as kept ones; those of an edit nobody has worked out. */
  useEffect(() => {
    const ask = (t: Typed) => t === typed && !edited ? answered(`figures-${id}-${system}`, () => api.engineCheck(t, system)) : api.engineCheck(t, system);
    let gone = false;
    const later = setTimeout(() => {
      readable(typed, kept, system, ask).then((r) => { if (!gone) { setCheck(r.check); setFaults(r.faults); setProblem(null); } }, (e: unknown) => {
        if (gone) return;
        if (isGone(e)) setCheck(null);
        setProblem(isGone(e) ? t('Figures follow when the server answers again.') : (e instanceof Error ? e.message : String(e)).replace(/^engine(?:, line \d+)?: /, ''));
      });
    }, 200);
    return () => { gone = true; clearTimeout(later); };
  }, [typed, kept, system, changes.value]);

  const edit = (path: Path, text: string, list: boolean) => { past.current.push(typed); if (past.current.length > 200) past.current.shift(); setTyped(write(typed, path, text, list)); };
  const take = (next: Typed) => { if (!conflict) return; past.current.push(typed); setTyped(next); setKept(conflict.theirs); setVersion(conflict.version); setConflict(null); };
  const isList = (path: string) => { const [field, group = ''] = path.split('.').reverse(); return groups?.find((g) => g.key === group)?.fields.find((f) => f.name === field)?.type === 'numbers'; };
  const undo = () => { const before = past.current.pop(); if (before) setTyped(before); };
  const giveUp = () => { const mine = typed; past.current.push(mine); setTyped(kept); setRestored(null); say(t('Your changes are put away.'), () => { setTyped(mine); }); };
  /* What cannot be read stays in its field and is not kept; all the rest is. */
  const save = async (over: boolean) => {
    keeping.current = true;
    try {
      const from = over && conflict ? conflict.version : version; /* over what was shown, and nothing newer */
      const r = await readable(typed, kept, system);
      if (r.faults.length && sameTyped(r.typed, kept)) { complain(t('Nothing else has changed, and this cannot be read: {faults}', { faults: r.faults.map((f) => f.says).join('; ') })); return; }
      const k = await api.engineKeep(r.typed, from);
      versionNow.current = k.version;
      keeping.current = false;
      setVersion(k.version); setKept(r.typed); setConflict(null); setRestored(null);
      if (r.faults.length) complain(t('Kept in the book, except {fields}: that stays in the form, and the book keeps what it had.', { fields: r.faults.map((f) => f.path[1].replaceAll('_', ' ')).join(', ') })); else say(t('The engine is kept in the book.'));
      if (!id) writeDraft(draft, null);
      await loadBook();
      if (!id || k.id !== id) go('engine', k.id === book.value?.engine_id ? {} : { engine: String(k.id) }, true);
    } catch (e) {
      if (e instanceof Refusal && e.status === 409 && id) await look(e.message); else complain(e);
    } finally { keeping.current = false; }
  };
  if (missing) return <section class="first"><h1>No such engine</h1><p class="lead">{missing[0]?.toUpperCase()}{missing.slice(1)}. {tx('{engines} are listed in Shop.', { engines: <a href="#/shop">The engines of this book</a> })}</p></section>;
  if (!groups) return <p class="quiet lone">Reading the fields…</p>;
  const faultOf = (group: string, field: string) => faults.find((f) => f.path[0] === group && f.path[1] === field)?.says ?? null, wrong = faults.length > 0;
  const warnings = check?.warnings ?? [];
  const warningsOf = (group: string, field: string) => warnings.filter((w) => w.about === (group ? `${group}.${field}` : field));
  return (
    <div class="engine">
      <header class="headline">
        <div><h1 translate={false}>{read(typed, ['', 'name']) || t('A new engine')}</h1><p class="quiet">{[isKept(`engine-${id}`) ? t('As this device kept it.') : edited ? restored ? t('Changed, not kept yet: as typed on this device at {time}.', { time: clockAndAgo(restored) }) : t('Changed, not kept yet.') : id ? t('As kept in the book.') : t('Not in the book yet.'),
          ...(away ? [t('Not the engine in the cell.')] : []), t('Any unit may be typed in any field: 86 mm, 3.386 in, 2 thou.')].join(' ')}</p></div>
        <div class="tools"><button type="button" class="to-figures" onClick={() => document.querySelector('.follows')?.scrollIntoView()}>To the figures</button><button type="button" onClick={undo} disabled={past.current.length === 0}>Undo</button>{edited && <button type="button" onClick={giveUp}>Put my changes away</button>}<button type="button" onClick={() => void save(false)} disabled={!edited}>Keep in the book</button></div>
      </header>
      {conflict && <Conflict says={conflict.says} base={kept} mine={typed} theirs={conflict.theirs} onTheirs={() => take(conflict.theirs)} onBoth={() => take(merged(kept, typed, conflict.theirs, isList))} onMine={() => void save(true)} />}
      {problem && <p class="said grave" role="status">{problem}</p>}
      {wrong && <div class="said grave faults" role="status"><p>{tn('One field cannot be read. The rest can be kept; that one stays in the form.', '{n} fields cannot be read. The rest can be kept; those stay in the form.', faults.length)}</p><ul>{faults.map((f) => <li key={f.path.join('.')}>{f.says}</li>)}</ul></div>}
      <div class="engine-columns">
        <form onSubmit={(e) => { e.preventDefault(); void save(false); }}>
          {groups.map((g, i) => (
            <details key={g.key} class="card group" open={i === 0 || (typed[g.key] != null && i < 4) || faults.some((f) => f.path[0] === g.key)}>
              <summary><h2>{g.heading}</h2></summary>
              <div class="fields">{g.fields.map((f) => <Input key={f.name} field={f} group={g.key} typed={typed} problem={faultOf(g.key, f.name)} warnings={warningsOf(g.key, f.name)} onEdit={edit} />)}</div>
            </details>
          ))}
        </form>
        <div class={'follows' + (wrong ? ' stale' : '')} aria-live="off">
          {check && (<>
            {wrong && <p class="said grave">For fields that cannot be read, these figures use what the book holds.</p>}
            {warnings.length > 0 && <section class="card"><h2>What to look at</h2><ul class="mind">{warnings.map((w) => <li key={w.text} class={w.severity}><b>{t(w.severity)}</b> {words(w.text)} <span class="quiet">{(w.about ?? '').replace('.', ', ').replaceAll('_', ' ')}</span></li>)}</ul></section>}
            <CompressionCard check={check} />
            <ValveEventsCard check={check} />
            <Drawings check={check} />
            <div class="columns"><Figures check={check} /></div>
            {check.left_out.length > 0 && <section class="card"><h2>Not worked out yet</h2><ul>{check.left_out.map((l) => <li key={l.id + l.text}>{words(l.text.replaceAll('_', ' '))}</li>)}</ul></section>}
          </>)}
        </div>
      </div>
    </div>
  );
}
