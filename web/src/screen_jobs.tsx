/* The customers' jobs: how far each is, what it comes to, what is late; and one of them, from the wish to what was heard afterwards. What
 * is typed is kept by the server in one transaction a form; a second press adds nothing. The price table: job_prices.tsx.
 * Names and prices are kept by no browser: what is answered is shown and let go. */
import { useEffect, useState } from 'preact/hooks';
import { get, send, Refusal, type CustomerJob, type CustomerJobKept, type CustomerJobNew, type CustomerJobs, type JobLine } from './api';
import { useAsked } from './answered';
import { useDraft } from './draft';
import { book, changes, complain, go, route, say } from './state';
import { WaitingHere } from './waiting';
import { money } from './job_money';
import { Prices } from './job_prices';
import { quantity } from './format';
import { t, tn, inWords } from './words';

const jobs = () => get<CustomerJobs>('customer-jobs');
const job = (id: string) => get<CustomerJob>('customer-jobs/' + id);

interface One { key: string; label: string; hint?: string; need?: boolean; choices?: string[] }
interface Form { kind: string; heading: string; button: string; fields: One[]; lines?: boolean; more?: boolean }
const BY: One = { key: 'by', label: 'Signed by', need: true }, AT: One = { key: 'at', label: 'Day, when not today', hint: '2026-03-14' };
const FIGURES: One[] = [{ key: 'power', label: 'Power', hint: '195 kW' }, { key: 'power_speed', label: 'At what speed', hint: '6000 rpm' }, { key: 'torque', label: 'Torque', hint: '310 N·m' }, { key: 'limit', label: 'Highest speed', hint: '7000 rpm' }];
const WISH: One[] = [{ key: 'customer', label: 'Customer', need: true }, { key: 'wish', label: 'The wish, in the customer’s words', need: true }, { key: 'use', label: 'For what', hint: 'hill climb' }, ...FIGURES,
  { key: 'idle', label: 'Idle speed', hint: '900 rpm' }, { key: 'fuel', label: 'Fuel', hint: '98 octane' }, { key: 'budget', label: 'Budget', hint: '14500' }, { key: 'by', label: 'Wanted by', hint: '2027-03-31' }];
const FORMS: Record<string, Form> = {
  quote: { kind: 'quote', heading: 'A quote', button: 'Make the quote', lines: true, fields: [{ key: 'until', label: 'Good until', hint: '2027-03-31' }, { key: 'note', label: 'Remark' }] },
  sent: { kind: 'sent', heading: 'It was sent', button: 'Sent', fields: [{ key: 'to', label: 'To whom', hint: 'by post' }, AT] },
  agreed: { kind: 'agreed', heading: 'It was signed', button: 'Signed', fields: [BY, AT] },
  change: { kind: 'change', heading: 'A change order', button: 'Keep the change', lines: true, fields: [{ key: 'what', label: 'What is changed', need: true }, BY, ...FIGURES, { key: 'fuel', label: 'Fuel' }, AT] },
  engine: { kind: 'engine', heading: 'Which engine', button: 'It is this engine', fields: [{ key: 'engine', label: 'Engine', need: true }] },
  order: { kind: 'order', heading: 'Order what is missing', button: 'Order', fields: [{ key: 'due', label: 'Due, when not by the table', hint: '2027-01-15' }] },
  come: { kind: 'come', heading: 'Parts have come', button: 'They have come', fields: [{ key: 'code', label: 'Code or supplier’s number', need: true }, { key: 'quantity', label: 'How many, when not all' }, { key: 'batch', label: 'Batch' }, { key: 'serial', label: 'Serial number' }, AT] },
  hours: { kind: 'hours', heading: 'Hours', button: 'Keep the hours', fields: [{ key: 'code', label: 'Work', need: true }, { key: 'spent', label: 'How long', hint: '3.5 h', need: true }, { key: 'who', label: 'Who' }, { key: 'what', label: 'What was done' }, AT] },
  end: { kind: 'end', heading: 'The end', button: 'It has left', fields: [{ key: 'how', label: 'How it ended', choices: ['shipped', 'cancelled'] }, AT] },
  reminder: { kind: 'reminder', heading: 'A reminder', button: 'Remind', fields: [{ key: 'what', label: 'What', hint: 'valve lash', need: true }, { key: 'running', label: 'After running for', hint: '1 h' }, { key: 'by', label: 'or by the day', hint: '2027-11-30' }] },
  after: { kind: 'after', heading: 'Heard afterwards', button: 'Keep it', fields: [{ key: 'what', label: 'What', need: true }, { key: 'running', label: 'Running since', hint: '1.5 h' }, { key: 'runs', label: 'Runs', hint: '11' }] },
};

const count = (text: string) => Number(text).toLocaleString(document.documentElement.lang || 'en', { maximumFractionDigits: 4 });

function Lines({ lines, put, prices }: { lines: Record<string, string>; put: (lines: Record<string, string>) => void; prices: JobLine[] }) {
  const [code, setCode] = useState('');
  return (
    <div class="job-lines">
      {Object.entries(lines).map(([one, many]) => (
        <div class="job-line" key={one}><label><span translate={false}>{prices.find((p) => p.code === one)?.name ?? one}</span> <input inputMode="decimal" value={many} aria-label={t('Quantity of {what}', { what: one })} onInput={(e) => { put({ ...lines, [one]: e.currentTarget.value }); }} /></label>
          <button type="button" class="plain" aria-label={t('Leave out: {fact}', { fact: one })} onClick={() => { put(Object.fromEntries(Object.entries(lines).filter(([key]) => key !== one))); }}>Leave out</button></div>))}
      <label>Part or work <select value={code} onChange={(e) => { const chosen = e.currentTarget.value; if (chosen && !(chosen in lines)) put({ ...lines, [chosen]: '1' }); setCode(''); }}>
        <option value="">{t('add a line')}</option>{prices.map((p) => <option key={p.code} value={p.code} translate={false}>{`${p.name ?? p.code}, ${money(p.price)}`}</option>)}</select></label>
    </div>
  );
}

/* One form: what is typed outlives a reload; what is probably not meant is asked about in its place. */
function Deed({ id, form, prices, quote, stood }: { id: number; form: Form; prices: JobLine[]; quote: number | undefined; stood: string }) {
  const [typed, setTyped] = useDraft<Record<string, string>>(`job-${id}-${form.kind}`, {});
  const [lines, setLines] = useDraft<Record<string, string>>(`job-${id}-${form.kind}-lines`, {});
  const [asked, setAsked] = useState<string | null>(null), [wrong, setWrong] = useState<string | null>(null);
  const keep = (sure: boolean) => {
    const record = Object.fromEntries(form.fields.filter((f) => f.key !== 'quantity').map((f): [string, string] => [f.key, (typed[f.key] ?? f.choices?.[0] ?? '').trim()]).filter(([, text]) => text !== ''));
    if (quote && (form.kind === 'sent' || form.kind === 'agreed')) record['quote'] = String(quote); /* the one that is shown, not one that another tab made meanwhile */
    const list = form.kind === 'come' ? (typed['quantity']?.trim() ? [{ code: record['code'], quantity: typed['quantity'].trim() }] : []) : Object.entries(lines).map(([code, many]) => ({ code, quantity: many.trim() }));
    send<CustomerJobKept>('POST', `customer-jobs/${id}/records`, { kind: form.kind, record, lines: list, ...(sure ? { sure: 'yes' } : {}) }).then((r) => {
      say(r.added ? t('{what}: kept.', { what: inWords(form.heading) }) : t('The very same is there already: nothing was added.'));
      setTyped({}); setLines({}); setAsked(null); setWrong(null); changes.value++;
    }, (problem: unknown) => {
      if (problem instanceof Refusal && problem.status === 422) { setAsked(problem.message); setWrong(null); } else if (problem instanceof Refusal && problem.status === 400) { setWrong(problem.message); setAsked(null); } else complain(problem);
    });
  };
  useEffect(() => { setAsked(null); setWrong(null); }, [stood]); /* what was asked was asked of the job as it stood; a pull in the cell meanwhile is nothing to it */
  const set = (key: string) => (e: { currentTarget: { value: string } }) => { const text = e.currentTarget.value; setTyped((old) => ({ ...old, [key]: text })); setAsked(null); setWrong(null); };
  return (
    <details class="deed" open={Object.keys(typed).length + Object.keys(lines).length > 0}>
      <summary>{inWords(form.heading)}</summary>
      <form class="stack" onSubmit={(e) => { e.preventDefault(); keep(false); }}>
        {form.fields.map((f) => <label key={f.key}>{inWords(f.label)} {f.choices ? <select value={typed[f.key] ?? f.choices[0]} onChange={set(f.key)}>{f.choices.map((c) => <option key={c} value={c}>{inWords(c)}</option>)}</select>
          : <input {...(f.need ? { required: true } : {})} maxLength={400} value={typed[f.key] ?? ''} placeholder={f.hint ?? ''} onInput={set(f.key)} />}</label>)}
        {form.lines && <Lines lines={lines} put={(next) => { setLines(next); setAsked(null); setWrong(null); }} prices={prices} />}
        {wrong && <p class="problem" role="alert" translate={false}>{wrong}</p>}
        {asked && <p class="problem" role="alert"><span translate={false}>{asked}</span> <button type="button" onClick={() => { keep(true); }}>It is meant</button></p>}
        <button type="submit">{inWords(form.button)}</button>
      </form>
    </details>
  );
}

function Back({ id, name }: { id: number; name: string }) {
  const [asks, setAsks] = useState(false), [why, setWhy] = useDraft(`job-back-${id}`, '');
  const back = (e: Event) => { e.preventDefault(); send('POST', `customer-jobs/${id}/withdraw`, { why: why.trim() }).then(() => { setWhy(''); setAsks(false); say(t('{reading}: withdrawn; the book keeps it with the reason.', { reading: name })); changes.value++; }, complain); };
  return asks || why ? <form class="line-form" onSubmit={back}><label>Reason <input required maxLength={300} value={why} onInput={(e) => { setWhy(e.currentTarget.value); }} /></label><button type="submit">Withdraw</button><button type="button" class="plain" onClick={() => { setAsks(false); setWhy(''); }}>Leave it</button></form>
    : <button type="button" class="plain" aria-label={t('Withdraw: {reading}', { reading: name })} onClick={() => { setAsks(true); }}>Withdraw</button>;
}

function Table({ lines }: { lines: JobLine[] }) {
  return (
    <div tabIndex={0} class="scroll"><table class="list"><thead><tr><th scope="col">Part or work</th><th scope="col" class="num">Quantity</th><th scope="col" class="num">Price of one</th><th scope="col" class="num">Sum</th><th scope="col">Tax</th></tr></thead>
      <tbody translate={false}>{lines.map((l) => <tr key={l.code}><th scope="row">{l.name ?? l.code}</th><td class="num">{count(l.quantity)} {l.unit ?? ''}</td><td class="num">{money(l.price)}</td><td class="num">{money(l.sum)}</td><td>{l.tax ?? ''}</td></tr>)}</tbody></table></div>
  );
}

function Money({ j }: { j: CustomerJob }) {
  const agreed = j.records.agreed.at(-1), quote = j.records.quote.find((q) => q.quote === (agreed?.quote ?? j.total.quote));
  if (!quote) return <p class="quiet">No quote yet.</p>;
  return (
    <>
      <h3 translate={false}>{t('Quote {n} of {day}', { n: quote.quote, day: quote.day })} <a class="button" href={`/api/v1/sheet?kind=quote&job=${j.id}`}>{t('As a sheet')}</a></h3>
      <Table lines={quote.lines} />
      {agreed ? <p translate={false}>{t('Signed by {who} on {day}.', { who: agreed.by, day: agreed.day })} <Back id={agreed.id} name={t('the signature')} /></p> : <p class="quiet">Not signed yet. <Back id={quote.id} name={t('the quote')} /></p>}
      {j.records.change.map((c) => <div key={c.id}><h3 translate={false}>{t('Change, signed by {who} on {day}: {what}', { who: c.by, day: c.day, what: c.what })}</h3>{c.lines.length > 0 && <Table lines={c.lines} />}<Back id={c.id} name={c.what} /></div>)}
      <p><b translate={false}>{t('In all {sum} {currency}, tax as each line says', { sum: money(j.total.all), currency: j.total.currency ?? '' })}</b></p>
    </>
  );
}

function Orders({ j }: { j: CustomerJob }) {
  if (!j.ordered.length && !j.to_order.lines.length) return null;
  return (
    <section class="card"><h2>Orders</h2>
      {j.ordered.length > 0 && <><div tabIndex={0} class="scroll"><table class="list"><thead><tr><th scope="col">Number</th><th scope="col">Part</th><th scope="col">Supplier</th><th scope="col" class="num">Come</th><th scope="col">Due</th></tr></thead>
        <tbody translate={false}>{j.ordered.map((o) => <tr key={`${o.order} ${o.code}`}><th scope="row">{o.supplier_number ?? o.code}</th><td>{o.name ?? o.code}</td><td>{o.supplier ?? ''}</td><td class="num">{t('{come} of {all}', { come: count(o.come), all: count(o.quantity) })}</td><td>{o.due ?? ''}{o.late && <b class="grave-word"> {t('late')}</b>}</td></tr>)}</tbody></table></div>
        <p><a class="button" href={`/api/v1/sheet?kind=orders&job=${j.id}`}>Order list as a sheet</a></p></>}
      {j.records.come.length > 0 && <ul class="kept-list">{j.records.come.map((c) => <li key={c.id}><span translate={false}><b>{c.lines[0]?.name ?? c.code}</b> {[count(c.lines[0]?.quantity ?? '0'), c.batch ?? '', c.serial ?? '', c.day].filter(Boolean).join(', ')}</span><Back id={c.id} name={c.code} /></li>)}</ul>}
      {j.to_order.lines.length > 0 && <p class="quiet" translate={false}>{tn('One part is not ordered yet.', '{n} parts are not ordered yet.', j.to_order.lines.length)}</p>}
    </section>
  );
}

function Hours({ j }: { j: CustomerJob }) {
  if (!j.work.length) return null;
  return (
    <section class="card"><h2>Hours against the quote</h2>
      <div tabIndex={0} class="scroll"><table class="list"><thead><tr><th scope="col">Work</th><th scope="col" class="num">Worked, h</th><th scope="col" class="num">Quoted, h</th></tr></thead>
        <tbody translate={false}>{j.work.map((w) => <tr key={w.code}><th scope="row">{w.name ?? w.code}</th><td class="num">{(w.spent_s / 3600).toFixed(1)}{w.spent_s > w.quoted_s && <b class="grave-word"> {t('over the quote')}</b>}</td><td class="num">{(w.quoted_s / 3600).toFixed(1)}</td></tr>)}</tbody></table></div>
      <ul class="kept-list">{j.records.hours.map((h) => <li key={h.id}><span translate={false}>{[h.day, h.who ?? '', `${(h.spent_s / 3600).toFixed(1)} h`, h.what ?? h.code].filter(Boolean).join(', ')}</span><Back id={h.id} name={t('hours of {day}', { day: h.day })} /></li>)}</ul>
    </section>
  );
}

function Proof({ j }: { j: CustomerJob }) {
  const p = j.proof;
  return (
    <section class="card"><h2>Promised and proved</h2>
      {!j.engine ? <p class="quiet">No engine is named yet: what is agreed goes into its build record then.</p> : <>
        <p translate={false}>{t('Engine: {engine}', { engine: j.engine })}</p>
        <div tabIndex={0} class="scroll"><table class="list"><thead><tr><th scope="col" aria-label="what" /><th scope="col" class="num">Promised</th><th scope="col" class="num">Proved</th></tr></thead>
          <tbody><tr><th scope="row">Power</th><td class="num" translate={false}>{quantity('power', p.agreed_power_w, 1)}</td><td class="num" translate={false}>{quantity('power', p.power_w, 1)}</td></tr>
            <tr><th scope="row">Torque</th><td class="num" translate={false}>{quantity('torque', p.agreed_torque_n_m, 0)}</td><td class="num" translate={false}>{quantity('torque', p.torque_n_m, 0)}</td></tr></tbody></table></div>
        <p class="quiet" translate={false}>{p.pulls ? tn('By the last pull. The report says how certain.', 'By the mean of the last {n} like pulls. The report says how certain.', p.pulls) : t('No pull of it counts yet.')}</p>
        {p.build_says_otherwise && <p class="mind">The build record says otherwise than the wish and the changes here; its figures count.</p>}</>}
    </section>
  );
}

function Whole({ id, all }: { id: string; all: CustomerJobs }) {
  const { answer: j, why } = useAsked('customer-job-' + id, () => job(id), [changes.value]);
  if (!j) return <WaitingHere says="Reading the job…" why={why} />;
  const w = j.records.wish.at(-1), over = w?.budget && Number(w.budget) < Number(j.total.all), may = book.value?.may_write, end = j.records.end.at(-1);
  const stood = JSON.stringify(j.records), due = all.due.filter((d) => d.job === j.id), deeds = ['quote', 'sent', 'agreed', 'change', 'engine', 'order', 'come', 'hours', 'end', 'reminder', 'after'];
  return (
    <div class="jobs">
      <header class="headline"><h1 translate={false}>{j.job}</h1><a class="button" href="#/jobs">All jobs</a></header>
      {w && <section class="card"><h2 translate={false}>{t('The wish of {customer}', { customer: w.customer })}</h2><p translate={false}>{w.wish}</p>
        <p class="quiet" translate={false}>{[w.use ?? '', w.fuel ?? '', w.power_w == null ? '' : quantity('power', w.power_w, 0), w.limit_rpm == null ? '' : t('to {speed} rpm', { speed: w.limit_rpm }), w.by ? t('wanted by {day}', { day: w.by }) : '', w.budget ? t('budget {sum}', { sum: money(w.budget) }) : ''].filter(Boolean).join(', ')}</p>
        {over && <p class="mind">The quote with its changes is more than the budget.</p>}</section>}
      <section class="card"><h2>Quote and changes</h2><Money j={j} /></section>
      <Orders j={j} />
      <Hours j={j} />
      <Proof j={j} />
      {end && <p><b translate={false}>{t('{how} on {day}', { how: inWords(end.how), day: end.day })}</b> <Back id={end.id} name={t('the end')} /></p>}
      {due.length > 0 && <section class="card"><h2>Due afterwards</h2><ul class="kept-list">{due.map((d) => <li key={d.what + d.from}><span translate={false}><b>{d.what}</b> {[d.life_s == null ? '' : t('{used} h of {life} h', { used: (d.used_s / 3600).toFixed(1), life: (d.life_s / 3600).toFixed(1) }), d.by ?? ''].filter(Boolean).join(', ')}</span>{d.due && <b class="grave-word"> {t('due')}</b>}</li>)}</ul></section>}
      {may && <section class="card"><h2>What happened</h2>{deeds.map((kind) => <Deed key={kind} id={j.id} form={FORMS[kind]!} prices={all.prices.lines} quote={j.total.quote} stood={stood} />)}</section>}
    </div>
  );
}

function Begin() {
  const [typed, setTyped] = useDraft<Record<string, string>>('job-new', {});
  const [wrong, setWrong] = useState<string | null>(null);
  const begin = (e: Event) => {
    e.preventDefault();
    const wish = Object.fromEntries(WISH.map((f): [string, string] => [f.key, (typed[f.key] ?? '').trim()]).filter(([, text]) => text !== ''));
    send<CustomerJobNew>('POST', 'customer-jobs', { name: (typed['name'] ?? '').trim(), wish }).then((r) => { setTyped({}); setWrong(null); changes.value++; go('jobs', { job: String(r.job) }); },
      (problem: unknown) => { if (problem instanceof Refusal && problem.status === 400) setWrong(problem.message); else complain(problem); });
  };
  const set = (key: string) => (e: { currentTarget: { value: string } }) => { const text = e.currentTarget.value; setTyped((old) => ({ ...old, [key]: text })); setWrong(null); };
  return (
    <details class="card deed" open={Object.keys(typed).length > 0}><summary>A new job</summary>
      <form class="stack" onSubmit={begin}>
        <label>Name of the job, the shop’s own <input required maxLength={100} value={typed['name'] ?? ''} onInput={set('name')} /></label>
        {WISH.map((f) => <label key={f.key}>{inWords(f.label)} <input {...(f.need ? { required: true } : {})} maxLength={400} value={typed[f.key] ?? ''} placeholder={f.hint ?? ''} onInput={set(f.key)} /></label>)}
        {wrong && <p class="problem" role="alert" translate={false}>{wrong}</p>}
        <button type="submit">Begin the job</button>
      </form></details>
  );
}

function List({ all }: { all: CustomerJobs }) {
  const due = all.due.filter((d) => d.due);
  return (
    <div class="jobs">
      <header class="headline"><h1>Jobs</h1></header>
      {due.length > 0 && <section class="card"><h2>Due now</h2><ul class="kept-list">{due.map((d) => <li key={d.job + d.what}><a href={'#/jobs?job=' + d.job} translate={false}>{`${d.name}: ${d.what}`}</a></li>)}</ul></section>}
      <section class="card">
        {all.jobs.length === 0 ? <p class="quiet">No job yet.</p> : <div tabIndex={0} class="scroll"><table class="list"><thead><tr><th scope="col">Job</th><th scope="col">Customer</th><th scope="col">How far</th><th scope="col" class="num">In all</th><th scope="col">Wanted by</th><th scope="col">Late</th></tr></thead>
          <tbody translate={false}>{all.jobs.map((j) => <tr key={j.id}><th scope="row"><a href={'#/jobs?job=' + j.id}>{j.job}</a></th><td>{j.customer ?? ''}</td><td>{inWords(j.stage)}</td><td class="num">{j.total.currency ? `${money(j.total.all)} ${j.total.currency}` : '–'}</td>
            <td>{j.by ?? ''}{j.by && j.by < all.today && j.stage !== 'shipped' && j.stage !== 'cancelled' && <b class="grave-word"> {t('over')}</b>}</td><td>{j.late ? <b class="grave-word">{tn('{n} line', '{n} lines', j.late)}</b> : ''}</td></tr>)}</tbody></table></div>}
      </section>
      {book.value?.may_write && <Begin />}
      <Prices prices={all.prices} />
    </div>
  );
}

export function JobsScreen() {
  const { answer: all, why } = useAsked('customer-jobs', jobs, [changes.value]);
  const id = route.value.query.get('job');
  if (!all) return <div class="jobs"><header class="headline"><h1>Jobs</h1></header><WaitingHere says="Reading the jobs…" why={why} /></div>;
  return id ? <Whole key={id} id={id} all={all} /> : <List all={all} />;
}
