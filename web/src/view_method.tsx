/* How the curves were computed, and what another way would give of the same samples. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import { api, Refusal, type Field, type Method, type Tried, type TriedCurve } from './api';
import { book, changes, complain, say, units } from './state';
import { atEnd, fixed, percent, quantity, rpm, shown, unitOf, words } from './format';
import { Plot, type Line } from './plot';
import { WaitingHere } from './waiting';
import { t } from './words';

function Choice({ field, value, onEdit }: { field: Field; value: string; onEdit: (text: string) => void }) {
  const id = 'm-' + field.name, change = (e: { currentTarget: { value: string } }) => onEdit(e.currentTarget.value);
  const titles = field.name === 'standard' ? book.value?.standards : undefined;
  return (
    <div class="field">
      <label for={id}>{field.name.replaceAll('_', ' ')}</label>
      {field.choices || field.type === 'boolean'
        ? <select id={id} value={value} onChange={change} aria-describedby={id + '-help'}>{(field.choices ?? ['yes', 'no']).map((c) => <option key={c} value={c}>{titles?.find((one) => one.key === c)?.title ?? c}</option>)}</select>
        : <input id={id} value={value} onInput={change} autocomplete="off" spellcheck={false} aria-describedby={id + '-help'} />}
      <p id={id + '-help'} class="help">{field.help}{field.range ? ` (${field.range})` : ''}. {t('Usual: {value}', { value: titles?.find((one) => one.key === field.default)?.title ? t(titles.find((one) => one.key === field.default)!.title) : t(field.default ?? '') })}{field.origin ? ` · ${t(field.origin)}` : ''}</p>
    </div>
  );
}

const peak = (kind: string, value: number, at: number, end: boolean) => t('{figure} at {speed}', { figure: quantity(kind, value, 1), speed: rpm(at) }) + atEnd(end);
/* A figure before and after, with the change. */
function Effect({ stored, now }: { stored: TriedCurve; now: TriedCurve }) {
  const rows: [string, string, string, string][] = [
    [t('Mean torque'), quantity('torque', stored.mean_torque_n_m, 1), quantity('torque', now.mean_torque_n_m, 1), percent(now.mean_torque_n_m / stored.mean_torque_n_m - 1, 2, true)],
    [t('Highest torque'), peak('torque', stored.peak_torque_n_m, stored.peak_torque_rpm, stored.torque_at_end), peak('torque', now.peak_torque_n_m, now.peak_torque_rpm, now.torque_at_end), percent(now.peak_torque_n_m / stored.peak_torque_n_m - 1, 2, true)],
    [t('Highest power'), peak('power', stored.peak_power_w, stored.peak_power_rpm, stored.power_at_end), peak('power', now.peak_power_w, now.peak_power_rpm, now.power_at_end), percent(now.peak_power_w / stored.peak_power_w - 1, 2, true)],
    ['Factor', fixed(stored.factor, 4), fixed(now.factor, 4), percent(now.factor / stored.factor - 1, 2, true)],
    [t('Band of use'), t('{low} to {high}', { low: rpm(stored.band_low_rpm), high: rpm(stored.band_high_rpm) }), t('{low} to {high}', { low: rpm(now.band_low_rpm), high: rpm(now.band_high_rpm) }), ''],
  ];
  return (
    <table class="list"><caption>{t('Pull {pull}', { pull: now.id })}</caption>
      <thead><tr><th scope="col" /><th scope="col" class="num">As stored</th><th scope="col" class="num">By this method</th><th scope="col" class="num">Change</th></tr></thead>
      <tbody>{rows.map((r) => <tr key={r[0]}><th scope="row">{r[0]}</th><td class="num">{r[1]}</td><td class="num">{r[2]}</td><td class="num">{r[3]}</td></tr>)}</tbody>
    </table>
  );
}

const all = (tried: Tried) => [...tried.a, ...tried.b];

export function MethodView({ a, b }: { a: number[]; b: number[] }) {
  const [method, setMethod] = useState<Method | null>(null);
  const [typed, setTyped] = useState<Record<string, string>>({});
  const [tried, setTried] = useState<{ as_stored: Tried; by_this: Tried } | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [working, setWorking] = useState(false);
  const system = units.value;
  const [why, setWhy] = useState<string | null>(null);
  const load = () => api.method().then((m) => { setMethod(m); setTyped(m.typed); setWhy(null); }, (e: unknown) => { setWhy(e instanceof Error ? e.message : String(e)); complain(e); });
  useEffect(() => { void load(); }, [changes.value]);
  useEffect(() => {
    let gone = false;
    if (!method || a.length + b.length === 0) return undefined;
    const later = setTimeout(() => {
      const [one, two] = a.length ? [a, b] : [b, []];
      setWorking(true);
      api.methodTry(one, two, typed).then((t) => { if (!gone) { setTried(t); setProblem(null); } }, (e: unknown) => { if (gone) return; setTried(null); setProblem(e instanceof Error ? e.message : String(e)); })
        .finally(() => { if (!gone) setWorking(false); });
    }, 250);
    return () => { gone = true; clearTimeout(later); };
  }, [method, typed, a.join(), b.join()]);
  const lines = useMemo<Line[]>(() => {
    if (!tried) return [];
    const line = (c: TriedCurve, stored: boolean): Line => ({ label: stored ? t('stored, pull {pull}', { pull: c.id }) : t('this method, pull {pull}', { pull: c.id }), name: stored ? t('{pull} stored', { pull: c.id }) : t('{pull} this method', { pull: c.id }), x: c.speed_rpm, y: c.torque_n_m.map((v) => v == null ? null : shown('torque', v)), ink: stored ? 'quiet' : b.includes(c.id) ? 'ochre' : 'blue', decimals: 1, ...(stored ? { dash: [4, 4] } : {}) });
    return [...all(tried.as_stored).map((c) => line(c, true)), ...all(tried.by_this).map((c) => line(c, false))];
  }, [tried, system]);
  if (!method) return <WaitingHere says="Reading the method…" why={why} />;
  const edited = Object.entries(typed).some(([name, value]) => value !== method.typed[name]);
  const keep = async (values: Record<string, string>, version: string, back: boolean): Promise<void> => {
    try {
      const r = await api.methodKeep(values, version);
      await load();
      if (back) say(t('The method is as it was.'));
      else say(t('New pulls are computed this way; stored curves keep their own method.'), () => void keep(r.before.typed, r.version, true));
    } catch (e) {
      if (e instanceof Refusal && e.status === 409) void load();
      complain(e);
    }
  };
  return (
    <section aria-label="Method">
      <p class="quiet">Raw samples are never changed. What is shown below is computed from them again and is kept only when you say so.</p>
      <form class="card" onSubmit={(e) => { e.preventDefault(); void keep(typed, method.version, false); }}>
        <h2>How curves are computed</h2>
        <div class="fields">{method.groups[0]?.fields.map((f) => <Choice key={f.name} field={f} value={typed[f.name] ?? ''} onEdit={(text) => setTyped({ ...typed, [f.name]: text })} />)}</div>
        <div class="tools"><button type="button" disabled={!edited} onClick={() => setTyped(method.typed)}>Back to the one in force</button><button type="submit" disabled={!edited || problem != null}>Use it for new pulls</button></div>
      </form>
      {problem && <p class="said grave" role="status">{words(problem)}</p>}
      <p class="quiet" role="status">{working ? t('Computing these pulls again from raw…') + (tried ? ' ' + t('What is shown below is by the previous method.') : '') : ''}</p>
      {tried && (<>
        {tried.as_stored.says && tried.by_this.says && <div class="card"><h2>The answer</h2><p>{t('As stored: {answer}', { answer: words(tried.as_stored.says.text) })}</p><p>{t('By this method: {answer}', { answer: words(tried.by_this.says.text) })}</p></div>}
        <Plot title={t('corrected torque, {unit}: as stored, and by this method', { unit: unitOf('torque') })} lines={lines} height={320} xLabel="rpm" left={unitOf('torque')} gutter={86} />
        <div class="card scroll" tabIndex={0}>{all(tried.by_this).map((now, i) => <Effect key={now.id} stored={all(tried.as_stored)[i]!} now={now} />)}</div>
      </>)}
    </section>
  );
}
