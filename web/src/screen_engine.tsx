/* The combination: a short page a part, any unit in any field, what follows as you type; drafts kept, undo and redo, two engines side by side. */
import { useEffect, useRef, useState } from 'preact/hooks';
import { api, isGone, Refusal, type EngineCheck, type FieldGroup, type Typed } from './api';
import { answered, isKept, showsNoMore } from './kept';
import { clockAndAgo, stamp } from './clock';
import { markChanged, readDraft, writeDraft } from './draft';
import { read, readable, type Fault, type Path } from './engine_faults';
import { Beside } from './engine_beside';
import { Conflict } from './engine_conflict';
import { CylinderDrawing, LiftDrawings, PipeDrawing } from './engine_drawings';
import { Figures } from './engine_figures';
import { Faults, PartForm, PartTabs } from './engine_form';
import { partOf, PARTS, pathOf } from './engine_parts';
import { merged, sameTyped, unitedAll, write } from './engine_typed';
import { book, changes, complain, go, handed, loadBook, route, say, units } from './state';
import { words } from './format';
import { CompressionCard } from './compression';
import { ValveEventsCard } from './valve_events';
import { t, tx } from './words';

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
  const past = useRef<Typed[]>([]), undone = useRef<Typed[]>([]);
  const loaded = useRef<number | null>(null); /* whose fields stand in the form */
  const asked = route.value.query.get('engine'), inCell = book.value?.engine_id ?? 0, system = units.value;
  const id = asked === 'new' ? 0 : asked ? Number(asked) || -1 : inCell, away = id > 0 && id !== inCell, draft = id ? `engine-${id}` : 'engine-new';
  const edited = !sameTyped(typed, kept);

  const show = (next: Typed, base: Typed, of: string | null) => { setTyped(next); setKept(base); setVersion(of); setConflict(null); setRestored(null); setMissing(null); past.current = sameTyped(next, base) ? [] : [base]; undone.current = []; loaded.current = id; };
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
    const ask = (t: Typed) => !edited && sameTyped(t, typed) ? answered(`figures-${id}-${system}`, () => api.engineCheck(t, system)) : api.engineCheck(t, system);
    let gone = false;
    const later = setTimeout(() => {
      readable(unitedAll(typed, groups ?? []), kept, system, ask).then((r) => { if (!gone) { setCheck(r.check); setFaults(r.faults); setProblem(null); } }, (e: unknown) => {
        if (gone) return;
        if (isGone(e)) setCheck(null);
        setProblem(isGone(e) ? t('Figures follow when the server answers again.') : (e instanceof Error ? e.message : String(e)).replace(/^engine(?:, line \d+)?: /, ''));
      });
    }, 200);
    return () => { gone = true; clearTimeout(later); };
  }, [typed, kept, system, changes.value, groups]);

  const remember = () => { past.current.push(now.current); if (past.current.length > 200) past.current.shift(); undone.current = []; };
  const edit = (path: Path, text: string, list: boolean) => { remember(); now.current = write(now.current, path, text, list); setTyped(now.current); };
  const take = (next: Typed) => { if (!conflict) return; remember(); setTyped(next); setKept(conflict.theirs); setVersion(conflict.version); setConflict(null); };
  const isList = (path: string) => { const [field, group = ''] = path.split('.').reverse(); return groups?.find((g) => g.key === group)?.fields.find((f) => f.name === field)?.type === 'numbers'; };
  const undo = () => { const before = past.current.pop(); if (before) { undone.current.push(typed); setTyped(before); } };
  const redo = () => { const next = undone.current.pop(); if (next) { past.current.push(typed); setTyped(next); } };
  const giveUp = () => { const mine = typed; remember(); setTyped(kept); setRestored(null); say(t('Your changes are put away.'), () => { setTyped(mine); }); };
  /* What cannot be read stays in its field and is not kept; all the rest is. */
  const save = async (over: boolean) => {
    keeping.current = true;
    try {
      const from = over && conflict ? conflict.version : version; /* over what was shown, and nothing newer */
      const r = await readable(unitedAll(now.current, groups ?? []), kept, system);
      if (r.faults.length && sameTyped(r.typed, kept)) { complain(t('Nothing else has changed, and this cannot be read: {faults}', { faults: r.faults.map((f) => f.says).join('; ') })); return; }
      const k = await api.engineKeep(r.typed, from);
      versionNow.current = k.version;
      keeping.current = false;
      setVersion(k.version); setKept(r.typed); if (r.faults.length === 0 && sameTyped(unitedAll(now.current, groups ?? []), r.typed)) setTyped(r.typed); setConflict(null); setRestored(null);
      if (r.faults.length) complain(t('Kept in the book, except {fields}: that stays in the form, and the book keeps what it had.', { fields: r.faults.map((f) => f.path[1].replaceAll('_', ' ')).join(', ') })); else say(t('The engine is kept in the book.'));
      if (!id) writeDraft(draft, null);
      await loadBook();
      const at = route.value.query.get('part'); /* somebody stays on the page of the part where it was kept */
      if (!id || k.id !== id) go('engine', { ...(k.id === book.value?.engine_id ? {} : { engine: String(k.id) }), ...(at ? { part: at } : {}) }, true);
    } catch (e) {
      if (e instanceof Refusal && e.status === 409 && id) await look(e.message); else complain(e);
    } finally { keeping.current = false; }
  };
  if (missing) return <section class="first"><h1>No such engine</h1><p class="lead">{missing[0]?.toUpperCase()}{missing.slice(1)}. {tx('{engines} are listed in Shop.', { engines: <a href="#/shop">The engines of this book</a> })}</p></section>;
  if (!groups) return <p class="quiet lone">Reading the fields…</p>;
  const wrong = faults.length > 0, warnings = check?.warnings ?? [], query = route.value.query;
  const part = PARTS.find((p) => p.key === query.get('part')) ?? PARTS[0]!, beside = Number(query.get('beside')) || null;
  const hash = (more: Record<string, string | null>) => { const next = new URLSearchParams(query); for (const [key, value] of Object.entries(more)) if (value) next.set(key, value); else next.delete(key); const text = next.toString(); return '#/engine' + (text ? '?' + text : ''); };
  const goTo = (path: Path) => { location.hash = hash({ part: partOf(pathOf(...path)) }); setTimeout(() => { const field = document.getElementById(`f-${path[0]}-${path[1]}`); field?.closest('details')?.setAttribute('open', ''); field?.focus(); }, 60); };
  return (
    <div class="engine">
      <header class="headline">
        <div><h1 translate={false}>{read(typed, ['', 'name']) || t('A new engine')}</h1><p class="quiet">{[isKept(`engine-${id}`) ? t('As this device kept it.') : edited ? restored ? t('Changed, not kept yet: as typed on this device at {time}.', { time: clockAndAgo(restored) }) : t('Changed, not kept yet.') : id ? t('As kept in the book.') : t('Not in the book yet.'),
          ...(away ? [t('Not the engine in the cell.')] : []), t('Any unit may be typed in any field: 86 mm, 3.386 in, 2 thou. A bare figure is taken in the unit beside its field.')].join(' ')}</p></div>
        <div class="tools"><button type="button" class="to-figures" onClick={() => document.querySelector('.follows')?.scrollIntoView()}>To the figures</button><button type="button" onClick={undo} disabled={past.current.length === 0}>Undo</button><button type="button" onClick={redo} disabled={undone.current.length === 0}>Redo</button>{edited && <button type="button" onClick={giveUp}>Put my changes away</button>}<button type="button" onClick={() => void save(false)} disabled={!edited}>Keep in the book</button></div>
      </header>
      {conflict && <Conflict says={conflict.says} base={kept} mine={typed} theirs={conflict.theirs} onTheirs={() => take(conflict.theirs)} onBoth={() => take(merged(kept, typed, conflict.theirs, isList))} onMine={() => void save(true)} />}
      {problem && <p class="said grave" role="status">{problem}</p>}
      <Faults faults={faults} onGo={goTo} />
      <PartTabs at={part.key} faults={faults} warnings={warnings} hash={(key) => hash({ part: key === PARTS[0]!.key ? null : key })} />
      <div class="engine-columns">
        <form onSubmit={(e) => { e.preventDefault(); void save(false); }}><PartForm part={part} groups={groups} typed={typed} faults={faults} warnings={warnings} onEdit={edit} /></form>
        <div class={'follows' + (wrong ? ' stale' : '')} aria-live="off">
          {check && (<>
            {wrong && <p class="said grave">For fields that cannot be read, these figures use what the book holds.</p>}
            {warnings.length > 0 && <section class="card"><h2>What to look at</h2><ul class="mind">{warnings.map((w) => <li key={w.text} class={w.severity}><b>{t(w.severity)}</b> {words(w.text)} {w.about && <a href={hash({ part: partOf(w.about) })}>{w.about.replace('.', ', ').replaceAll('_', ' ')}</a>}</li>)}</ul></section>}
            {(part.key === 'short' || part.key === 'block') && <CylinderDrawing check={check} />}
            {part.key === 'head' && <CompressionCard check={check} />}
            {part.key === 'cam' && <><ValveEventsCard check={check} /><LiftDrawings check={check} /></>}
            {(part.key === 'intake' || part.key === 'exhaust') && <PipeDrawing typed={typed} side={part.key} />}
            <div class="columns"><Figures check={check} sections={part.sections} /></div>
            {part.key === 'short' && check.left_out.length > 0 && <section class="card"><h2>Not worked out yet</h2><ul>{check.left_out.map((l) => <li key={l.id + l.text}>{words(l.text.replaceAll('_', ' '))}</li>)}</ul></section>}
          </>)}
        </div>
      </div>
      {id > 0 && <Beside id={id} name={read(typed, ['', 'name'])} typed={typed} check={check} with={beside} onChoose={(other) => { location.replace(hash({ beside: other ? String(other) : null })); }} />}
    </div>
  );
}
