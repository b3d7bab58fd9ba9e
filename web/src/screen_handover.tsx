/* Hand over: every sheet as it will print, what is missing before, then the files. */
import { useEffect, useState } from 'preact/hooks';
import { api, counts, Refusal, type Attachment, type Pull } from './api';
import { useAnswered, useQuestion } from './answered';
import { Waiting } from './waiting';
import { isKept } from './kept';
import { book, changes, go, route, units } from './state';
import { date, quantity, words } from './format';
import { t, tx } from './words';

const known = ['engine', 'kind', 'title', 'pulls', 'units', 'paper', 'photos', 'for', 'columns', 'standard', 'language'];
function choices(): Record<string, string> {
  const out: Record<string, string> = {};
  for (const key of known) { const value = route.value.query.get(key); if (value) out[key] = value; }
  return out;
}
const change = (key: string, value: string) => { const next = { ...choices(), [key]: value }; if (!value) delete next[key]; go('handover', next); };

const TYPING_MS = 200; /* the first is drawn at once */
function Pages({ query, title }: { query: Record<string, string>; title: string }) {
  const [pages, setPages] = useState<string[] | null>(null);
  const [why, setWhy] = useState<string | null>(null);
  const version = changes.value, key = JSON.stringify(query);
  useEffect(() => {
    let gone = false;
    const wait = setTimeout(() => {
      api.sheetPages(query).then((p) => { if (!gone) { setPages(p); setWhy(null); } }, (problem: unknown) => { if (!gone) { setPages([]); setWhy(problem instanceof Refusal && problem.status === 0 ? t('The server draws the sheet and does not answer; this device has kept none.') : problem instanceof Error ? problem.message : String(problem)); } });
    }, pages ? TYPING_MS : 0);
    return () => { gone = true; clearTimeout(wait); };
  }, [key, version]);
  if (why) return <p class="said grave sheets">{why}</p>;
  if (!pages) return <p class="quiet sheets">Drawing the sheet…</p>;
  return <div class="sheets">{pages.map((page, i) => <img key={i} src={page} alt={t('{title} as it will print, page {n} of {all}; the downloads hold its text', { title, n: i + 1, all: pages.length })} />)}</div>;
}

function WhichPulls({ pulls, chosen }: { pulls: Pull[]; chosen: number[] }) {
  const sound = pulls.filter(counts).reverse();
  const tick = (id: number, on: boolean) => change('pulls', (on ? [...chosen, id] : chosen.filter((c) => c !== id)).sort((a, b) => a - b).join(','));
  return (
    <details class="item"><summary><b>Pulls</b> <span class="quiet">{chosen.length ? chosen.join(', ') : t('the last ones that are alike')}</span></summary>
      <div class="tall scroll" tabIndex={0}>{sound.map((p) => <label key={p.id} class="tick"><input type="checkbox" checked={chosen.includes(p.id)} onChange={(e) => tick(p.id, e.currentTarget.checked)} /> {p.id} <span class="quiet">{date(p.at)} {quantity('torque', p.band_mean_torque_n_m, 1)}{p.changed && <span translate={false}>, {p.changed}</span>}</span></label>)}</div>
    </details>
  );
}

function WhichPhotos({ photos, chosen }: { photos: Attachment[]; chosen: number[] }) {
  const fit = photos.filter((a) => a.media === 'image/jpeg' || a.media === 'image/png');
  if (fit.length === 0) return <p class="quiet">Pictures attached to pulls, days and the build can go into the HTML report.</p>;
  const tick = (id: number, on: boolean) => change('photos', (on ? [...chosen, id] : chosen.filter((c) => c !== id)).join(','));
  return (
    <details class="item" open={chosen.length > 0}><summary><b>Pictures in the HTML report</b> <span class="quiet">{chosen.length || t('none')}</span></summary>
      <p class="quiet">The customer sees what is ticked, with its note; place and camera data are taken out.</p>
      {fit.map((a) => <label key={a.id} class="tick"><input type="checkbox" checked={chosen.includes(a.id)} onChange={(e) => tick(a.id, e.currentTarget.checked)} /> {a.note ?? a.name} <span class="quiet">{a.belongs} {a.place || a.owner_id}</span></label>)}
    </details>
  );
}

const COLUMNS: [string, string][] = [['lambda', 'lambda'], ['afr', 'air-fuel ratio'], ['fuel_flow', 'fuel flow'], ['bsfc', 'BSFC'], ['bmep', 'BMEP'], ['ve', 'VE'], ['exhaust_temperature', 'exhaust temperature'], ['oil_pressure', 'oil pressure'], ['oil_temperature', 'oil temperature'], ['coolant_temperature', 'coolant temperature']];
function WhichColumns({ chosen }: { chosen: string[] }) {
  const tick = (name: string, on: boolean) => change('columns', COLUMNS.map(([n]) => n).filter((n) => (n === name ? on : chosen.includes(n))).join(','));
  return (
    <details class="item" open={chosen.length > 0}><summary><b>Columns of the table</b> <span class="quiet">{chosen.length || t('the usual ones')}</span></summary>
      {COLUMNS.map(([name, label]) => <label key={name} class="tick"><input type="checkbox" checked={chosen.includes(name)} onChange={(e) => tick(name, e.currentTarget.checked)} /> {t(label)}</label>)}
    </details>
  );
}

/* Keys of the server's; it refuses one that it does not know. */
const STANDARDS: [string, string][] = [['j1349', 'SAE J1349'], ['j607', 'STD (SAE J607)'], ['iso1585', 'ISO 1585, spark ignition'], ['iso1585ci', 'ISO 1585, compression ignition'], ['din70020', 'DIN 70020'], ['jisd1001', 'JIS D 1001'], ['none', 'observed']];
/* The report's own choices: whom it is for, and the factor of this sheet alone. */
function ReportChoices({ own }: { own: Record<string, string> }) {
  return <>
    <label>For <select value={own['for'] ?? 'customer'} onChange={(e) => change('for', e.currentTarget.value)}><option value="customer">{t('the customer: one page')}</option><option value="shop">{t('the shop: with everything behind it')}</option></select></label>
    <label>Factor <select value={own['standard'] ?? ''} onChange={(e) => change('standard', e.currentTarget.value)}><option value="">{t('as the book has it')}</option>{STANDARDS.map(([key, title]) => <option key={key} value={key} translate={false}>{title}</option>)}</select></label>
  </>;
}

const idsOf = (text: string | undefined) => (text ?? '').split(',').map(Number).filter((n) => n > 0);

export function HandoverScreen() {
  const version = changes.value, system = units.value, engine = choices()['engine'] ?? '';
  const { answer: about, why } = useQuestion(`handover-${engine}`, () => api.handover(engine), [version]);
  const pulls = useAnswered(`pulls-${system}`, () => api.pulls(system), [version]) ?? [];
  const photos = useAnswered('attachments-', () => api.attachments(''), [version]) ?? [];
  if (!about) return <Waiting says="Gathering the sheets…" why={why} to="#/handover" toWords={t('To the sheets of the engine in the cell')} />;
  if (!about.engine && pulls.length === 0) return <section class="first"><h1>Nothing to hand over yet</h1><p class="lead">{tx('The sheets are made from an engine and its pulls: {begin}, or drop a recording anywhere on this page.', { begin: <a href="#/engine">begin an engine</a> })}</p></section>;
  const own = choices(), kind = own['kind'] ?? 'report', sheet = about.sheets.find((s) => s.kind === kind) ?? about.sheets[0]!;
  const query: Record<string, string> = { kind: sheet.kind, ...(about.engine ? { engine: about.engine } : {}), units: own['units'] ?? system, ...(own['title'] ? { title: own['title'] } : {}), ...(own['paper'] ? { paper: own['paper'] } : {}), ...(kind === 'report' && own['pulls'] ? { pulls: own['pulls'] } : {}), ...(own['language'] ? { language: own['language'] } : {}), ...(kind === 'report' ? Object.fromEntries(['for', 'columns', 'standard'].filter((k) => own[k]).map((k) => [k, own[k]!])) : {}) };
  const html = { ...query, format: 'html', ...(own['photos'] ? { photos: own['photos'] } : {}) };
  const grave = about.missing.filter((m) => m.grave).length;
  return (
    <div class="handover">
      <header class="headline"><div><h1 translate={false}>{t('Hand over {engine}', { engine: about.engine ?? '' })}</h1><p class="quiet">{sheet.about}</p></div></header>
      <nav class="views" aria-label="Sheets">{about.sheets.map((s) => <a key={s.kind} href={'#/handover?' + new URLSearchParams({ ...own, kind: s.kind }).toString()} aria-current={s.kind === sheet.kind ? 'page' : undefined}>{s.title}</a>)}</nav>
      <div class="handover-columns">
        <section class="card handover-before"><h2>Before hand-over</h2>
          {about.missing.length === 0 ? <p>Nothing was found missing. That does not make it ready: look yourself.</p>
            : <p class="quiet">{grave ? t('{n} to settle first, {cautions} to watch.', { n: grave, cautions: about.missing.length - grave }) : t('Nothing to settle first, {cautions} to watch.', { cautions: about.missing.length })}</p>}
          <ul class="mind">{about.missing.map((m) => <li key={m.about + m.text} class={m.grave ? 'danger' : ''}><b>{m.grave ? 'settle' : 'watch'}</b> {words(m.text)}</li>)}</ul>
        </section>
        <Pages query={query} title={sheet.title} />
        <section class="card handover-choices"><h2>This sheet</h2>
          <form class="stack" onSubmit={(e) => e.preventDefault()}>
            {about.engines.length > 1 && <label>Engine <select value={about.engine ?? ''} onChange={(e) => go('handover', { kind: sheet.kind, engine: e.currentTarget.value })}>{about.engines.map((name) => <option key={name}>{name}</option>)}</select></label>}
            <label>Title <input value={own['title'] ?? ''} placeholder={sheet.title} maxLength={100} onChange={(e) => change('title', e.currentTarget.value)} /></label>
            <label>Units <select value={query['units']} onChange={(e) => change('units', e.currentTarget.value)}><option value="si">SI</option><option value="us">US</option></select></label>
            <label>Paper <select value={own['paper'] ?? book.value?.settings['paper'] ?? 'a4'} onChange={(e) => change('paper', e.currentTarget.value)}><option value="a4">A4</option><option value="letter">letter</option></select></label>
            <label>Language <select value={own['language'] ?? ''} onChange={(e) => change('language', e.currentTarget.value)}><option value="">{t('as set for sheets')}</option><option value="en" translate={false}>English</option><option value="de" translate={false}>Deutsch</option></select></label>
            {kind === 'report' && <ReportChoices own={own} />}
          </form>
          {kind === 'report' && <WhichColumns chosen={(own['columns'] ?? '').split(',').filter(Boolean)} />}
          {kind === 'report' && <WhichPulls pulls={pulls} chosen={idsOf(own['pulls'])} />}
          {kind === 'report' && <WhichPhotos photos={photos} chosen={idsOf(own['photos'])} />}
          {!isKept(`handover-${engine}`) && <div class="tools gets"><a class="button" href={api.sheetAddress(query)} download>{sheet.title} (PDF)</a>
            {kind === 'report' && <a class="button" href={api.sheetAddress(html)} download>One file to send (HTML)</a>}</div>}
        </section>
      </div>
    </div>
  );
}
