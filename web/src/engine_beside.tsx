/* Two engines side by side: the fields in which they differ first, then the figures that follow and differ, then what is alike. */
import { useEffect, useState } from 'preact/hooks';
import { api, type EngineCheck, type EngineLine, type Typed } from './api';
import { fieldName } from './engine_conflict';
import { rowsOf } from './engine_figures';
import { flat } from './engine_typed';
import { complain, units } from './state';
import { t, tn } from './words';

interface Other { name: string; typed: Typed; check: EngineCheck | null }

function Rows({ rows, a, b }: { rows: [string, string, string][]; a: string; b: string }) {
  return <div tabIndex={0} class="scroll"><table class="list beside"><thead><tr><th scope="col" aria-label="Field" /><th scope="col" translate={false}>{a}</th><th scope="col" translate={false}>{b}</th></tr></thead>
    <tbody>{rows.map(([name, p, q]) => <tr key={name}><th scope="row">{name}</th><td translate={false}>{p || '–'}</td><td translate={false}>{q || '–'}</td></tr>)}</tbody></table></div>;
}
const figures = (check: EngineCheck | null) => new Map(check ? [...rowsOf(check)].flatMap(([section, rows]) => rows.filter((r) => !r.pairs).map((r): [string, [string, string]] => [r.key, [`${section}: ${r.label}`, r.text]])) : []);

export function Beside({ id, name, typed, check, with: other, onChoose }: { id: number; name: string; typed: Typed; check: EngineCheck | null; with: number | null; onChoose: (id: number | null) => void }) {
  const [engines, setEngines] = useState<EngineLine[]>([]);
  const [there, setThere] = useState<Other | null>(null);
  useEffect(() => { api.engines('').then((r) => { setEngines(r.engines); }, complain); }, []);
  useEffect(() => {
    let wanted = true;
    setThere(null);
    if (other) api.engine(other).then(async (e) => {
      const worked = await api.engineCheck(e.typed, units.value).catch(() => null); /* one that lacks too much still has its fields */
      if (wanted) setThere({ name: String(e.typed['name'] ?? ''), typed: e.typed, check: worked });
    }, complain);
    return () => { wanted = false; };
  }, [other, units.value]);
  const mine = flat(typed), theirs = flat(there?.typed ?? {}), keys = [...new Set([...mine.keys(), ...theirs.keys()])];
  const differ = keys.filter((k) => mine.get(k) !== theirs.get(k)), alike = keys.filter((k) => mine.get(k) === theirs.get(k));
  const f = figures(check), g = figures(there?.check ?? null), moved = [...f].filter(([k, [, text]]) => g.has(k) && g.get(k)![1] !== text);
  return (
    <section class="card engine-beside"><div class="headline"><h2>Side by side</h2>{other && <button type="button" class="plain" onClick={() => { onChoose(null); }}>Close</button>}</div>
      <label>Beside <select value={other ?? ''} onChange={(e) => { onChoose(Number(e.currentTarget.value) || null); }}><option value="">{engines.length > 1 ? t('choose an engine') : t('no other engine in the book')}</option>{engines.filter((e) => e.id !== id).map((e) => <option key={e.id} value={e.id} translate={false}>{e.name}</option>)}</select></label>
      {there && (<>
        <h3>{differ.length === 0 ? t('No field differs.') : tn('{n} field differs', '{n} fields differ', differ.length)}</h3>
        {differ.length > 0 && <Rows a={name} b={there.name} rows={differ.map((k) => [fieldName(k), mine.get(k) ?? '', theirs.get(k) ?? ''])} />}
        {moved.length > 0 && <details class="more-fields"><summary>{tn('{n} figure that follows differs', '{n} figures that follow differ', moved.length)}</summary><Rows a={name} b={there.name} rows={moved.map(([k, [label, text]]) => [label, text, g.get(k)![1]])} /></details>}
        {alike.length > 0 && <details class="more-fields"><summary>{tn('{n} field is alike', '{n} fields are alike', alike.length)}</summary><Rows a={name} b={there.name} rows={alike.map((k) => [fieldName(k), mine.get(k) ?? '', theirs.get(k) ?? ''])} /></details>}
      </>)}
    </section>
  );
}
