/* Engines past and present, the one in the cell, families with what was learnt of them. */
import { useEffect, useState } from 'preact/hooks';
import { api, type EngineLine, type Family } from './api';
import { changes, complain, connected, loadBook, say } from './state';
import { date, fixed, shown, unitOf } from './format';
import { t, tn, inWords } from './words';

async function putInCell(engine: EngineLine) {
  try {
    const r = await api.engineInCell(engine.id);
    await loadBook(); changes.value++;
    say(t('{engine} is in the cell: the next pulls belong to it.', { engine: r.name }), r.before && r.before !== engine.id ? () => { void api.engineInCell(r.before).then(() => { void loadBook(); changes.value++; }, complain); } : undefined);
  } catch (problem) { complain(problem); }
}

/* Roles are written out: rows that fold on a phone would else be no table any more to a screen reader. */
function Row({ e }: { e: EngineLine }) {
  const name = new URLSearchParams({ engine: e.name }).toString();
  const looks = [[t('pulls'), `#/pulls?engine=${e.id}`], [t('build'), e.in_cell ? '#/build' : '#/build?' + name], [t('combination'), e.in_cell ? '#/engine' : `#/engine?engine=${e.id}`], [t('sheets'), '#/handover?' + name]];
  const cell = (label: string, text: string | null, more = '') => <td role="cell" class={(text ? '' : 'none ') + more} data-label={inWords(label)} translate={false}>{text}</td>;
  return (
    <tr role="row"><th role="rowheader" scope="row" translate={false}>{e.name}{e.part && <span class="quiet"> {e.part}</span>}</th>{cell('Serial', e.serial)}{cell('Owner', e.owner)}{cell('Family', e.family)}{cell('Pulls', String(e.pulls), 'num')}{cell('Last', e.last_pull_at ? date(e.last_pull_at) : null, 'nowrap')}
      <td role="cell" class="links" data-label={t('Look at its')}>{looks.map(([word, address]) => <a key={word} href={address!} aria-label={t('{what} of {engine}', { what: word!, engine: e.name })}>{word}</a>)}</td>
      <td role="cell" data-label={t('In the cell')}>{e.in_cell ? <b>here now</b> : <button type="button" onClick={() => void putInCell(e)} aria-label={t('Put in the cell: {engine}', { engine: e.name })}>Put in the cell</button>}</td></tr>
  );
}

export function EnginesCard() {
  const [find, setFind] = useState('');
  const [engines, setEngines] = useState<EngineLine[] | null>(null);
  const version = changes.value;
  useEffect(() => {
    let wanted = true;
    const later = setTimeout(() => { api.engines(find).then((r) => { if (wanted) setEngines(r.engines); }, complain); }, 150);
    return () => { wanted = false; clearTimeout(later); };
  }, [find, version]);
  return (
    <section class="card wide" id="engines">
      <div class="headline"><h2>Engines</h2><a class="button" href="#/engine?engine=new">Begin another engine</a></div>
      <label>Find <input type="search" value={find} maxLength={100} placeholder="a name, a remark, a part's batch" onInput={(e) => setFind(e.currentTarget.value)} /></label>
      <p class="quiet" role="status">{engines == null ? (connected.value ? t('Looking…') : t('The engines are not kept on this device; they follow when the server answers again.')) : engines.length === 0 ? (find ? t("Nothing in the book has the word '{word}'.", { word: find }) : t('No engine in the book yet.')) : tn('{n} engine', '{n} engines', engines.length)}</p>
      {engines && engines.length > 0 && <table class="list fold" role="table">
        <thead role="rowgroup"><tr role="row"><th role="columnheader">Engine</th><th role="columnheader">Serial</th><th role="columnheader">Owner</th><th role="columnheader">Family</th><th role="columnheader" class="num">Pulls</th><th role="columnheader">Last</th><th role="columnheader">Look at its</th><th role="columnheader">In the cell</th></tr></thead>
        <tbody role="rowgroup">{engines.map((e) => <Row key={e.id} e={e} />)}</tbody></table>}
    </section>
  );
}

/* Growth is a difference of lengths: no zero to shift. */
function small(m: number | null): string {
  return m == null ? t('not known') : `${fixed((shown('length', m) - shown('length', 0)), unitOf('length') === 'in' ? 4 : 3)} ${unitOf('length')}`;
}

export function FamiliesCard() {
  const [families, setFamilies] = useState<Family[] | null>(null);
  const version = changes.value;
  useEffect(() => { api.families().then((r) => setFamilies(r.families), complain); }, [version]);
  return (
    <section class="card">
      <h2>Families, and what was learnt</h2>
      {families == null ? <p class="quiet">Reading the builds…</p> : families.length === 0 ? <p class="quiet">No build carries a family yet. Name one when a build begins (Build screen), and growth of lash is learnt over like builds.</p> :
        families.map((f) => <div key={f.family}><h3 translate={false}>{f.family}</h3>
          <ul>{f.lash_growth.map((g) => <li key={g.side}>{t('lash growth, {side}:', { side: inWords(g.side) })} {g.valves === 0 ? t('nothing read cold and hot yet') : <>{small(g.mean_m)}{g.low_m != null && <span class="quiet"> {t('next valve {low} to {high}', { low: small(g.low_m), high: small(g.high_m) })}</span>} <span class="quiet">{tn('from {valves} valves of one build', 'from {valves} valves of {n} builds', g.builds, { valves: g.valves })}{g.few ? ': ' + t('few, so read it hot') : ''}</span></>}</li>)}</ul>
          <div tabIndex={0} class="scroll"><table class="list"><thead><tr><th scope="col">Engine</th><th scope="col">Build</th><th scope="col" class="num">Pulls</th><th scope="col" class="num">{t('Peak power, {unit}', { unit: unitOf('power') })}</th></tr></thead>
            <tbody>{f.engines.map((e) => <tr key={e.engine + e.build}><th scope="row" translate={false}>{e.engine}</th><td translate={false}>{e.build}</td><td class="num">{e.pulls}</td><td class="num">{e.power_w == null ? t('not known') : fixed(shown('power', e.power_w), 0)}</td></tr>)}</tbody></table></div></div>)}
    </section>
  );
}
