/* The shop: what the cell repeats to, calibrations, the life ledger, answers so far, settings. */
import { useAsked, useQuestion } from './answered';
import { useDraft } from './draft';
import { Waiting, WaitingHere } from './waiting';
import { Words } from './words_field';
import { api, type Chart, type Shop } from './api';
import { DevicesCard } from './devices';
import { EnginesCard, FamiliesCard } from './shop_engines';
import { LanguageChoice } from './language_choice';
import { CellCard } from './shop_cell';
import { WhatLooksWrong } from './shop_check';
import { NotSafe, SafeKeeping } from './shop_safe';
import { RecordersCard } from './shop_recorders';
import { Logo } from './shop_logo';
import { StoreCard } from './shop_store';
import { AfterDelivery, WindowSetting } from './shop_window';
import { book, changes, complain, say } from './state';
import { betweenPulls, date, duration, fixed, percent, rpm, time, words } from './format';
import { t, tn, inWords } from './words';

function ControlChart({ chart }: { chart: Chart }) {
  const n = chart.values.length;
  if (n === 0) return <p class="quiet">{t('No {what} on record yet.', { what: inWords(chart.kind) })}</p>;
  const all = [...chart.values, ...(chart.lower != null ? [chart.lower, chart.upper!] : [])];
  const low = Math.min(...all), high = Math.max(...all), span = high - low || 1;
  const y = (v: number) => 70 - 60 * (v - low) / span;
  const x = (i: number) => 10 + 280 * (n === 1 ? 0.5 : i / (n - 1));
  const about = { what: inWords(chart.kind), n, last: fixed(chart.values[n - 1]!, 4) };
  return (
    <figure class="chart">
      <svg viewBox="0 0 300 80" role="img" aria-label={chart.in_control ? t('{what}: {n} values, last {last}, inside the control limits', about) : t('{what}: {n} values, last {last}, outside the control limits', about)}>
        {chart.centre != null && <><line class="limit" x1="0" x2="300" y1={y(chart.upper!)} y2={y(chart.upper!)} /><line class="limit" x1="0" x2="300" y1={y(chart.lower!)} y2={y(chart.lower!)} /><line class="centre" x1="0" x2="300" y1={y(chart.centre)} y2={y(chart.centre)} /></>}
        {chart.values.map((v, i) => <circle key={i} cx={x(i)} cy={y(v)} r="3" class={i === n - 1 && !chart.in_control ? 'out' : ''} />)}
      </svg>
      <figcaption class="quiet">{chart.centre == null ? tn('{n} value; limits begin with the fourth', '{n} values; limits begin with the fourth', n) : chart.in_control ? t('{n} values, the last inside the limits', about) : t('{n} values, THE LAST OUTSIDE: find out why before the next pull', about)}</figcaption>
    </figure>
  );
}

/* What the book holds of calibrations, and by when the next is wanted. */
function Due({ shop }: { shop: Shop }) {
  return (
    <dl class="facts due">{shop.calibrations_due.map((d) => {
      const good = d.state === 'holds' || d.state === 'done today';
      return <div key={d.kind}><dt>{d.what}</dt><dd><b class={good ? '' : 'grave-word'}>{d.state}</b>{d.holds_until ? ' ' + (d.state === 'overdue' ? t('since {day}', { day: date(d.holds_until) }) : t('until {day}', { day: date(d.holds_until) })) : ''} <span class="quiet">{d.last_at ? t('last {time}', { time: `${date(d.last_at)} ${time(d.last_at)}` }) : ''}</span></dd></div>;
    })}</dl>
  );
}

function Health({ shop }: { shop: Shop }) {
  const [kind, setKind] = useDraft('calibration-kind', 'zero');
  const [read, setRead] = useDraft('calibration-read', '');
  const [expected, setExpected] = useDraft('calibration-expected', '');
  const [note, setNote] = useDraft('calibration-note', '');
  const [reset, setReset] = useDraft('calibration-reset', false);
  const submit = (e: Event) => {
    e.preventDefault();
    api.calibrate({ kind, read, note, ...(kind === 'zero' ? reset ? { left: '0 N·m' } : {} : { expected }) }).then((r) => {
      const chart = r.charts[0]!;
      const what = inWords(kind);
      say(chart.in_control ? t('Kept: {what}.', { what }) : t('OUT OF CONTROL: {what}. Find out why before the next pull.', { what }));
      setRead(''); setReset(false);
      setNote('');
    }, complain);
  };
  return (
    <section class="card">
      <h2>Dyno health {shop.cell && <span class="quiet" translate={false}>{shop.cell}</span>}</h2>
      <h3>Calibrations due</h3>
      <Due shop={shop} />
      {shop.charts.map((chart) => <div key={chart.kind}><h3>{chart.kind}</h3><ControlChart chart={chart} /></div>)}
      <form class="stack" onSubmit={submit}>
        <label>What <select value={kind} onChange={(e) => setKind(e.currentTarget.value)}><option value="zero">zero of today</option><option value="check weight">check weight</option></select></label>
        <label>Read <input required placeholder="0.3 N·m" value={read} onInput={(e) => setRead(e.currentTarget.value)} /></label>
        {kind === 'zero' && <label class="tick"><input type="checkbox" checked={reset} onChange={(e) => setReset(e.currentTarget.checked)} /> Then set to zero</label>}
        {kind !== 'zero' && <label>Expected <input required placeholder="98.07 N·m" value={expected} onInput={(e) => setExpected(e.currentTarget.value)} /></label>}
        <label>Note <input placeholder="morning, who" value={note} onInput={(e) => setNote(e.currentTarget.value)} /></label>
        <button type="submit">Keep</button>
      </form>
      <p class="tools"><a class="button" href="#/calibrate">Calibrate the load cell, step by step</a></p>
      <p class="quiet">Hang weights with the engine stopped and the shaft free, nobody under them; follow the dyno maker's procedure.</p>
      {shop.calibrations.length > 0 && <div tabIndex={0} class="scroll"><table class="list"><thead><tr><th scope="col">When</th><th scope="col">What</th><th scope="col" class="num">Value</th><th scope="col">Holds until</th><th scope="col">Note</th></tr></thead>
        <tbody>{shop.calibrations.slice(-10).reverse().map((c) => <tr key={c.at + c.kind}><td>{date(c.at)} {time(c.at)}</td><td>{c.kind}</td><td class="num">{c.value == null ? '' : fixed(c.value, 4)}</td><td>{c.valid_until ? date(c.valid_until) : ''}</td><td translate={false}>{c.note}</td></tr>)}</tbody></table></div>}
    </section>
  );
}

function Repeatability({ shop }: { shop: Shop }) {
  const most = Math.max(...shop.repeatability.map((r) => r.relative_sd ?? 0), 0.001);
  return (
    <section class="card">
      <h2>What this cell repeats to</h2>
      <table class="list">
        <thead><tr><th scope="col">Between pulls</th><th scope="col" class="num">One pull, s</th><th scope="col" class="num">Limit, 2.8&thinsp;s</th><th scope="col" class="num">Freedom</th><th scope="col" class="bar-cell" aria-label="as a bar" /></tr></thead>
        <tbody>{shop.repeatability.map((r) => (
          <tr key={r.level}><th scope="row">{betweenPulls(r.level)}{r.borrowed && r.relative_sd != null && <span class="quiet"> {t('starting figure')}</span>}</th><td class="num">{r.relative_sd == null ? '–' : percent(r.relative_sd, 2)}</td><td class="num">{percent(r.relative_sd == null ? null : 2.8 * r.relative_sd, 1)}</td><td class="num">{r.relative_sd == null ? 'not known' : fixed(r.degrees_of_freedom, 0)}</td>
            <td class="bar-cell"><svg viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true"><rect class={r.borrowed ? 'borrowed' : ''} width={100 * (r.relative_sd ?? 0) / most} height="8" /></svg></td></tr>))}</tbody>
      </table>
      <p class="quiet">Of the mean torque over the band of use, learned from comparable pulls in the book (ISO 5725: s is the repeatability standard deviation).</p>
    </section>
  );
}

function LifeLedger() {
  const version = changes.value;
  const { answer: l, why } = useAsked('ledger', api.ledger, [version]);
  if (!l) return <section class="card"><h2>Life ledger</h2><WaitingHere says="Counting through the stored recordings…" why={why} /></section>;
  const rows = l.above.filter((r) => r.speed_rpm >= 4000);
  const most = Math.max(...rows.map((r) => r.seconds), 1);
  return (
    <section class="card">
      <h2>Life ledger</h2>
      <p>{[tn('{n} recording', '{n} recordings', l.recordings), tn('{n} pull', '{n} pulls', l.pulls), tn('{n} heat cycle', '{n} heat cycles', l.heat_cycles), t('{time} running', { time: duration(l.running_s) }), ...(l.highest_speed_rpm > 0 ? [t('highest {speed} rpm', { speed: rpm(l.highest_speed_rpm) })] : [])].join(', ')}</p>
      {rows.length > 0 && <table class="list"><thead><tr><th scope="col" class="num">Above, rpm</th><th scope="col" class="num">Time</th><th scope="col" class="bar-cell" aria-label="as a bar" /></tr></thead>
        <tbody>{rows.map((r) => <tr key={r.speed_rpm}><td class="num">{rpm(r.speed_rpm)}</td><td class="num">{duration(r.seconds)}</td><td class="bar-cell"><svg viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true"><rect width={100 * r.seconds / most} height="8" /></svg></td></tr>)}</tbody></table>}
      <p class="quiet">Counted from stored raw, so it can be counted again.</p>
    </section>
  );
}

function Settings({ shop }: { shop: Shop }) {
  const now = book.value?.settings ?? {};
  const [values, setValues] = useDraft<Record<string, string>>('settings', {});
  const value = (key: string) => values[key] ?? now[key] ?? '';
  const put = (key: string) => (text: string) => { setValues((old) => ({ ...old, [key]: text })); };
  const set = (key: string) => (e: { currentTarget: { value: string } }) => { put(key)(e.currentTarget.value); };
  const submit = (e: Event) => { e.preventDefault(); api.settings(values).then(() => { say(t('Settings are kept.')); setValues({}); }, complain); };
  return (
    <section class="card">
      <h2>This device</h2>
      <div class="stack"><LanguageChoice /></div>
      <h2>For the sheets</h2>
      <form class="stack" onSubmit={submit}>
        <Words label="Name of the shop" value={value('shop')} onText={put('shop')} most={400} />
        <Words label="Line under it" value={value('shop_line')} onText={put('shop_line')} most={400} />
        <Words label="Terms at the foot" value={value('terms')} onText={put('terms')} most={400} />
        <label>Units <select value={value('units') || 'si'} onChange={set('units')}><option value="si">SI: N·m, kW</option><option value="us">US: lb-ft, hp</option></select></label>
        <label>Paper <select value={value('paper') || 'a4'} onChange={set('paper')}><option value="a4">A4</option><option value="letter">US letter</option></select></label>
        <label>Labels <select value={value('labels') || 'british'} onChange={set('labels')}><option translate={false} value="british">British: inlet, centre</option><option translate={false} value="american">American: intake, center</option></select></label>
        <button type="submit" disabled={Object.keys(values).length === 0}>Keep</button>
      </form>
      <Logo shop={shop} />
    </section>
  );
}

export function ShopScreen() {
  const { answer: shop, why } = useQuestion('shop', api.shop, [changes.value]);
  if (!shop) return <Waiting says="Reading the shop…" why={why} />;
  return (
    <div class="shop">
      <h1 translate={false}>{book.value?.settings['shop'] || t('The shop')}</h1>
      <p><a class="button" href="#/jobs">Jobs</a> <span class="quiet">Customers’ jobs: quotes, orders, hours, what is due</span></p>
      <NotSafe shop={shop} />
      <EnginesCard />
      <div class="columns">
        <Health shop={shop} /><Repeatability shop={shop} /><FamiliesCard /><LifeLedger />
      </div>
        <section class="card"><h2>Answers so far</h2>
          {shop.verdicts.length === 0 ? <p class="quiet">None yet.</p> :
            <table class="list fold answers" role="table"><thead role="rowgroup"><tr role="row"><th role="columnheader">When</th><th role="columnheader">Question</th><th role="columnheader">Pulls</th><th role="columnheader">Answer</th></tr></thead>
              <tbody role="rowgroup">{[...shop.verdicts].reverse().map((v) => <tr role="row" key={v.id}><td role="cell" class="nowrap" data-label="When">{date(v.at)} {time(v.at)}</td><td role="cell" data-label="Question" translate={false}>{v.question}</td><td role="cell" data-label="Pulls">{v.pulls.text}</td><td role="cell" data-label="Answer">{words(v.says.text)}</td></tr>)}</tbody></table>}
        </section>
      <div class="columns"><CellCard /><RecordersCard /><StoreCard /><SafeKeeping /><WhatLooksWrong /><DevicesCard /><AfterDelivery /><Settings shop={shop} /><WindowSetting /></div>
    </div>
  );
}
