/* The shop's price table: what counts now, out as a file, in from one. A further version each time; quotes that are there keep their prices. */
import { useState } from 'preact/hooks';
import { Refusal, send, type CustomerJobKept, type CustomerJobs } from './api';
import { book, changes, complain, say } from './state';
import { money } from './job_money';
import { t, tn } from './words';

const MOST_BYTES = 900_000;
/* As the server reads a file that it is given: what is not UTF-8 is Windows-1252, as spreadsheets save it. */
const lettersOf = (bytes: ArrayBuffer) => { try { return new TextDecoder('utf-8', { fatal: true }).decode(bytes); } catch { return new TextDecoder('windows-1252').decode(bytes); } };

function Load({ currency }: { currency: string }) {
  const [file, setFile] = useState<{ name: string; table: string } | null>(null), [other, setOther] = useState(currency);
  const [wrong, setWrong] = useState<string | null>(null), [asked, setAsked] = useState<string | null>(null), [busy, setBusy] = useState(false);
  const choose = async (input: HTMLInputElement) => {
    const chosen = input.files?.[0];
    input.value = ''; /* the same file again, once it was put right */
    setFile(null); setWrong(null); setAsked(null);
    if (!chosen) return;
    if (chosen.size > MOST_BYTES) { setWrong(t("{file}: the page takes a table of up to 900 kB; 'price load' on the command line takes more", { file: chosen.name })); return; }
    const table = { name: chosen.name, table: lettersOf(await chosen.arrayBuffer()) };
    setFile(table);
    keep(table, false);
  };
  const keep = (one: { name: string; table: string }, sure: boolean) => {
    setBusy(true);
    send<CustomerJobKept>('POST', 'customer-jobs/prices', { ...one, currency: other.trim(), ...(sure ? { sure: 'yes' } : {}) }).then((r) => {
      say(r.added ? t('{file} is the price table from now on; quotes that are there keep their prices.', { file: one.name }) : t('The very same is there already: nothing was added.'));
      setFile(null); setWrong(null); setAsked(null); changes.value++;
    }, (problem: unknown) => {
      if (!(problem instanceof Refusal) || (problem.status !== 400 && problem.status !== 422)) { complain(problem); return; }
      setWrong(problem.status === 400 ? problem.message : null);
      setAsked(problem.status === 422 ? problem.message : null);
    }).finally(() => { setBusy(false); });
  };
  return (
    <div class="stack">
      <label>Currency, where the table has no such column <input maxLength={20} value={other} placeholder="EUR" onInput={(e) => { setOther(e.currentTarget.value); }} /></label>
      <label>A price table from a file <input type="file" accept=".csv,.tsv,.txt,text/csv" disabled={busy} aria-invalid={wrong ? 'true' : undefined} onChange={(e) => { choose(e.currentTarget).catch(complain); }} /></label>
      <p class="quiet">A spreadsheet saves it as CSV, with the columns code, name, price, and where wanted kind, unit, tax, supplier, supplier_number, days, currency.</p>
      {wrong && <p class="problem" role="alert" translate={false}>{wrong}</p>}
      {asked && file && <p class="problem" role="alert"><span translate={false}>{asked}</span> <button type="button" disabled={busy} onClick={() => { keep(file, true); }}>It is meant</button></p>}
    </div>
  );
}

export function Prices({ prices }: { prices: CustomerJobs['prices'] }) {
  const there = prices.version > 0;
  return (
    <section class="card"><h2>Price table</h2>
      <p class="quiet" translate={false}>{there ? t('Version {n} of {day}, {lines}, in {currency}', { n: prices.version, day: prices.day ?? '', lines: tn('{n} line', '{n} lines', prices.lines.length), currency: prices.currency ?? '' }) : t('There is no price table yet: quotes need one.')}</p>
      {there && <details class="deed"><summary>See it</summary><div tabIndex={0} class="scroll"><table class="list"><thead><tr><th scope="col">Code</th><th scope="col">Part or work</th><th scope="col" class="num">Price of one</th><th scope="col">Unit</th><th scope="col">Tax</th><th scope="col">Supplier</th></tr></thead>
        <tbody translate={false}>{prices.lines.map((l) => <tr key={l.code}><th scope="row">{l.code}</th><td>{l.name ?? ''}</td><td class="num">{money(l.price)}</td><td>{l.unit ?? ''}</td><td>{l.tax ?? ''}</td><td>{l.supplier ?? ''}</td></tr>)}</tbody></table></div></details>}
      {there && <p><a class="button" href="/api/v1/customer-jobs/prices" download>To a file, to edit and load again</a></p>}
      {book.value?.may_write && <details class="deed" open={!there}><summary>{there ? t('Another version') : t('Load one')}</summary><Load currency={prices.currency ?? ''} /></details>}
    </section>
  );
}
