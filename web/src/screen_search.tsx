/* Search: which combination? What may be changed, which parts are on the shelf, what is wanted and what may not be passed; the trade-offs
 * as points to choose from. A long job of the server: another screen may be looked at meanwhile. */
import { useEffect, useState } from 'preact/hooks';
import { api, type SearchAnswer, type SearchMember } from './api';
import { book, complain, go, say, units } from './state';
import { percent, words } from './format';
import { followJob, pageName } from './predict_job';
import { begin, remember, sketchOf } from './predict_sketch';
import { figureName, SearchFound } from './search_answer';
import { asking, changeKey, changeName, FIGURES, found, isMean, nextId, questionOf, type Asking } from './search_question';
import { t, tx } from './words';

type List = 'changes' | 'parts' | 'wishes' | 'limits' | 'stood';
const put = (part: Partial<Asking>) => { asking.value = { ...asking.value, ...part }; };
const edit = <K extends List>(list: K, id: number, part: Partial<Asking[K][number]>) => put({ [list]: asking.value[list].map((row) => row.id === id ? { ...row, ...part } : row) } as Partial<Asking>);
const drop = (list: List, id: number) => put({ [list]: (asking.value[list] as { id: number }[]).filter((row) => row.id !== id) } as Partial<Asking>);

function Text({ label, value, onText, hint, narrow }: { label: string; value: string; onText: (text: string) => void; hint?: string; narrow?: boolean }) {
  return <label>{label} <input class={narrow ? 'narrow' : ''} value={value} placeholder={hint} onInput={(e) => onText(e.currentTarget.value)} autocomplete="off" spellcheck={false} /></label>;
}
function Figure({ value, label, onFigure }: { value: string; label: string; onFigure: (figure: string) => void }) {
  return <label><span class="unseen">{label}</span><select value={value} onChange={(e) => onFigure(e.currentTarget.value)}>{FIGURES.map((f) => <option key={f} value={f}>{figureName(f)}</option>)}</select></label>;
}
const Remove = ({ what, onRemove }: { what: string; onRemove: () => void }) => <button type="button" class="plain" aria-label={t('Remove {change}', { change: what })} onClick={onRemove}>Remove</button>;

/* Empty until it is known what can be changed: a name in the file's spelling is nothing to read. */
function Field({ label, value, names, onField }: { label: string; value: string; names: string[]; onField: (key: string) => void }) {
  return <label>{label} <input list="search-fields" value={names.length ? changeName(value, names) : ''} onInput={(e) => onField(changeKey(e.currentTarget.value, names))} autocomplete="off" spellcheck={false} /></label>;
}

function Changes({ names }: { names: string[] }) {
  const a = asking.value;
  return (
    <fieldset class="card"><legend>What may be changed</legend>
      {a.changes.map((c) => (
        <div class="variant-row" key={c.id}>
          <Field label={t('field')} value={c.field} names={names} onField={(field) => edit('changes', c.id, { field })} />
          <Text label={t('from')} value={c.from} onText={(from) => edit('changes', c.id, { from })} narrow /><Text label={t('to')} value={c.to} onText={(to) => edit('changes', c.id, { to })} narrow /><Text label={t('in steps of')} value={c.step} onText={(step) => edit('changes', c.id, { step })} narrow />
          <Remove what={changeName(c.field, names)} onRemove={() => drop('changes', c.id)} />
        </div>))}
      <datalist id="search-fields">{names.map((n) => <option key={n} value={changeName(n, names)} />)}</datalist>
      <p class="tools"><button type="button" onClick={() => put({ changes: [...a.changes, { id: nextId(), field: '', from: '', to: '', step: '' }] })}>Add a field</button></p>
      <p class="quiet">With units, as on the Engine screen: 200 mm to 420 mm. Any figure of the engine's file by its name there: inlet.duration, breathing.plenum.</p>
    </fieldset>
  );
}

function Shelf() {
  const a = asking.value;
  return (
    <fieldset class="card"><legend>Parts on the shelf</legend>
      {a.parts.map((p) => (
        <div class="variant-row" key={p.id}>
          <Text label={t('place')} value={p.place} onText={(place) => edit('parts', p.id, { place })} hint={t('camshaft')} narrow /><Text label={t('part')} value={p.name} onText={(name) => edit('parts', p.id, { name })} narrow /><Text label={t('price')} value={p.price} onText={(price) => edit('parts', p.id, { price })} narrow />
          <Text label={t('sets')} value={p.sets} onText={(sets) => edit('parts', p.id, { sets })} hint="inlet.duration=274 deg; exhaust.duration=278 deg" />
          <Remove what={p.name} onRemove={() => drop('parts', p.id)} />
        </div>))}
      <p class="tools"><button type="button" onClick={() => put({ parts: [...a.parts, { id: nextId(), place: a.parts.at(-1)?.place ?? '', name: '', price: '', sets: '' }] })}>Add a part</button></p>
      <p class="quiet">One of each place is fitted. A name alone is a part of the shop's shelf, a place alone all that the shelf has for it.</p>
    </fieldset>
  );
}

function Wanted() {
  const a = asking.value;
  return (<>
    <fieldset class="card"><legend>What is wanted</legend>
      {a.wishes.map((w) => (
        <div class="variant-row" key={w.id}><Figure value={w.figure} label={t('what is wanted')} onFigure={(figure) => edit('wishes', w.id, { figure })} />
          {isMean(w.figure) && <><Text label={t('from')} value={w.from} onText={(from) => edit('wishes', w.id, { from })} hint="3000 rpm" narrow /><Text label={t('to')} value={w.to} onText={(to) => edit('wishes', w.id, { to })} hint="6500 rpm" narrow /></>}
          <Remove what={figureName(w.figure)} onRemove={() => drop('wishes', w.id)} /></div>))}
      {a.wishes.length < 4 && <p class="tools"><button type="button" onClick={() => put({ wishes: [...a.wishes, { id: nextId(), figure: 'price', from: '', to: '' }] })}>Add one that is wanted</button></p>}
    </fieldset>
    <fieldset class="card"><legend>What may not be passed</legend>
      {a.limits.map((l) => (
        <div class="variant-row" key={l.id}><Figure value={l.figure} label={t('limit on')} onFigure={(figure) => edit('limits', l.id, { figure })} /><Text label={t('at least')} value={l.least} onText={(least) => edit('limits', l.id, { least })} narrow /><Text label={t('at most')} value={l.most} onText={(most) => edit('limits', l.id, { most })} narrow />
          <Remove what={figureName(l.figure)} onRemove={() => drop('limits', l.id)} /></div>))}
      <p class="tools"><button type="button" onClick={() => put({ limits: [...a.limits, { id: nextId(), figure: 'octane', least: '', most: '' }] })}>Add a limit</button></p>
    </fieldset></>);
}

function Stood({ names }: { names: string[] }) {
  const a = asking.value;
  return (
    <fieldset class="card"><legend>What it must stand</legend>
      {a.stood.map((r) => (
        <div class="variant-row" key={r.id}>
          <Field label={t('field')} value={r.field} names={names} onField={(field) => edit('stood', r.id, { field })} />
          <Text label={t('from')} value={r.from} onText={(from) => edit('stood', r.id, { from })} narrow /><Text label={t('to')} value={r.to} onText={(to) => edit('stood', r.id, { to })} narrow />
          <Remove what={changeName(r.field, names)} onRemove={() => drop('stood', r.id)} />
        </div>))}
      {a.stood.length < 4 && <p class="tools"><button type="button" onClick={() => put({ stood: [...a.stood, a.stood.length ? { id: nextId(), field: '', from: '', to: '' } : { id: nextId(), field: 'air_temperature', from: '-15 K', to: '+15 K' }] })}>Add what differs</button></p>}
      <p class="quiet">Weather, fuel, tolerance, wear: each row of the answer is run at every corner of these.</p>
    </fieldset>
  );
}

function How() {
  const a = asking.value;
  return (
    <fieldset class="card"><legend>How it is run</legend>
      <div class="variant-row"><Text label={t('speeds')} value={a.speeds} onText={(speeds) => put({ speeds })} hint="3000; 4000; 5000; 6000; 7000 rpm" /><Text label={t('idle speed')} value={a.idle} onText={(idle) => put({ idle })} hint="900 rpm" narrow /></div>
      <div class="variant-row"><label>{t('spark')} <select value={a.spark} onChange={(e) => put({ spark: e.currentTarget.value })}><option value="mbt">{t('for best torque, and see which octane that asks for')}</option><option value="best">{t('what this fuel allows')}</option></select></label></div>
      <div class="variant-row"><Text label={t('combinations to begin with')} value={a.first} onText={(first) => put({ first })} narrow /><Text label={t('rounds of 15 after them')} value={a.rounds} onText={(rounds) => put({ rounds })} narrow /></div>
    </fieldset>
  );
}

export function SearchScreen() {
  const id = book.value?.engine_id ?? 0, here = found.value;
  const [typed, setTyped] = useState<Record<string, unknown> | null>(null);
  const [names, setNames] = useState<string[]>([]);
  const [share, setShare] = useState(0);
  const [job, setJob] = useState(0);
  const [refused, setRefused] = useState<string | null>(null);
  useEffect(() => {
    if (!id) return;
    api.engine(id).then((e) => {
      setTyped(e.typed as Record<string, unknown>);
      return api.predictSliders(e.typed, [], id, units.value);
    }).then((info) => { if (info) setNames(info.changes.map((c) => c.name)); }, (e: unknown) => setRefused(e instanceof Error ? e.message : String(e)));
  }, [id]);
  if (!id) return <section class="first"><h1>No engine yet</h1><p class="lead">{tx('Type one on the {screen} screen, and combinations can be searched for here.', { screen: <a href="#/engine">Engine</a> })}</p></section>;
  const run = () => {
    const a = asking.value;
    setRefused(null); setShare(0);
    api.searchStart({ page: pageName, typed: typed as never, question: questionOf(a), first: Number(a.first) || 40, rounds: a.rounds.trim() === '' ? 3 : Number(a.rounds) }, units.value).then((begun) => {
      setJob(begun);
      return followJob<SearchAnswer>(begun, setShare);
    }).then((answer) => { if (answer) found.value = { engine: id, answer }; }, (e: unknown) => setRefused(e instanceof Error ? e.message : String(e))).finally(() => setJob(0));
  };
  const open = (member: SearchMember) => {
    api.engine(id).then((e) => {
      begin(id, e.version, e.typed);
      const sketch = sketchOf(id);
      if (!sketch) return;
      remember(sketch);
      sketch.base = { typed: e.typed, changes: member.asks };
      say(t('The combination is the base of the prediction now.'));
      go('predict');
    }, complain);
  };
  return (
    <div class="search">
      <header class="headline"><div><h1>Search</h1><p class="quiet">Which combination does what is wanted best, and what does each choice cost?</p></div></header>
      {refused && <p class="problem" role="alert">{words(refused)}</p>}
      <div class="predict-columns">
        <form onSubmit={(e) => { e.preventDefault(); run(); }}>
          <Changes names={names} /><Shelf /><Wanted /><Stood names={names} /><How />
          <p class="tools">{job === 0 ? <button type="submit" disabled={!typed}>Search</button>
            : <><span role="status">{t('Running: {share}', { share: percent(share, 0) })}</span><button type="button" onClick={() => { void api.predictCancel(job).catch(complain); }}>Cancel</button></>}</p>
        </form>
        <div class="rest">{here && here.engine === id ? <SearchFound answer={here.answer} onOpen={open} /> : <p class="quiet lone">Say what may be changed, from where to where, and what is wanted; the trade-offs come up here.</p>}</div>
      </div>
    </div>
  );
}
