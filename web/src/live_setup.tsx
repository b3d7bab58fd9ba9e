/* The set-up while a session runs: what stands now, what was said for the next pull, a step down and up for what is turned most, any
 * other field in words. It goes with the next pull that is kept; in a pull nothing of it can be said. */
import { useState } from 'preact/hooks';
import { api, type SetupNow } from './api';
import { useAsked } from './answered';
import { changes, complain, units } from './state';
import { useDraft } from './draft';
import { inPull, refresh, state } from './live_state';
import { inWords, t, tc, tx } from './words';

/* One press: in the unit that the figure stands in. Common practice, no source. */
const steps: Record<string, Record<string, number>> = {
  spark: { deg: 1, '°': 1 }, lambda: { '': 0.01 }, main_jet: { mm: 0.05, in: 0.002 }, air_jet: { mm: 0.05, in: 0.002 },
  lash_inlet: { mm: 0.02, in: 0.001 }, lash_exhaust: { mm: 0.02, in: 0.001 }, plug_gap: { mm: 0.05, in: 0.002 }, spacer: { mm: 5, in: 0.25 },
};
/* Always offered, also before the first pull: what a test day turns. */
const usual = ['spark', 'lambda', 'jets'];
const nameOf = (field: string) => inWords(field.replaceAll('_', ' '));

function stepped(field: string, text: string, by: number): string | null {
  const [, figure, unit = ''] = /^\s*(-?\d+(?:\.\d+)?)\s*(.*?)\s*$/.exec(text) ?? [];
  const step = steps[field]?.[unit];
  if (figure === undefined || step === undefined) return null;
  const decimals = Math.max((String(step).split('.')[1] ?? '').length, (figure.split('.')[1] ?? '').length);
  return `${(Number(figure) + by * step).toFixed(decimals)} ${unit}`.trim();
}

const said = () => new Map((state.value?.said ?? []).map((one) => { const at = one.indexOf('='); return [one.slice(0, at).trim(), one.slice(at + 1).trim()] as const; }));
const tell = (field: string, text: string) => api.liveControl(`set ${field}=${text}`).then(() => { void refresh(); });

function Row({ field, now, next, help }: { field: string; now: string | undefined; next: string | undefined; help: string }) {
  const stands = next ?? now, move = (by: number) => { const to = stands && stepped(field, stands, by); if (to) tell(field, to).catch(complain); };
  const steps = stands !== undefined && stepped(field, stands, 1) !== null;
  return (
    <div class={'said-row' + (next !== undefined ? ' said-next' : '')} title={help}>
      <dt translate={false}>{nameOf(field)}</dt>
      <dd>
        {steps && <button type="button" disabled={inPull.value} aria-label={t('{field}: one step down', { field: nameOf(field) })} onClick={() => move(-1)}>−</button>}
        <span translate={false}>{next === undefined ? now ?? '–' : <>{now !== undefined && now !== next && <><s>{now}</s> → </>}<b>{next}</b></>}</span>
        {steps && <button type="button" disabled={inPull.value} aria-label={t('{field}: one step up', { field: nameOf(field) })} onClick={() => move(1)}>+</button>}
      </dd>
    </div>
  );
}

function Any({ setup }: { setup: SetupNow }) {
  const fields = setup.groups.flatMap((g) => g.fields), [field, setField] = useState('spark'), [text, setText] = useDraft('live-set', '');
  const chosen = fields.find((f) => f.name === field);
  return (
    <form class="line-form" onSubmit={(e) => { e.preventDefault(); tell(field, text).then(() => setText(''), complain); }}>
      <label>Set <select value={field} onChange={(e) => setField(e.currentTarget.value)}>{fields.map((f) => <option key={f.name} value={f.name} translate={false}>{nameOf(f.name)}</option>)}</select></label>
      <label>{tc('a setting', 'to')} <input required value={text} placeholder={chosen?.examples ?? ''} onInput={(e) => setText(e.currentTarget.value)} /></label>
      <button type="submit" disabled={inPull.value}>For the next pull</button>
      {chosen && <span class="quiet">{chosen.help}</span>}
    </form>
  );
}

export function LiveSetup() {
  const { answer: setup } = useAsked(`live-setup-${units.value}`, () => api.setup(units.value), [changes.value, state.value?.own_book]);
  const [text, setText] = useDraft('live-next', '');
  if (!setup) return null;
  const own = state.value?.own_book != null, next = said(), help = new Map(setup.groups.flatMap((g) => g.fields.map((f) => [f.name, f.help] as const)));
  const now = own ? {} : setup.now, names = [...new Set([...usual, ...Object.keys(now), ...next.keys()])].filter((n) => help.has(n));
  return (
    <section class="card live-setup" aria-label="Set-up">
      <h2>Set-up for the next pull</h2>
      {own && <p class="quiet">Practice has a book of its own: what stood before in this one does not count there.</p>}
      <dl>{names.map((n) => <Row key={n} field={n} now={now[n]} next={next.get(n)} help={help.get(n) ?? ''} />)}</dl>
      {state.value?.changed && <p>{tx('Changed: {what}', { what: <b translate={false}>{state.value.changed}</b> })}</p>}
      <Any setup={setup} />
      <form class="line-form" onSubmit={(e) => { e.preventDefault(); api.liveControl('changed ' + text).then(() => { setText(''); void refresh(); }, complain); }}>
        <label>Changed <input required maxLength={390} value={text} placeholder="a part that no field names" onInput={(e) => setText(e.currentTarget.value)} /></label>
        <button type="submit" disabled={inPull.value}>Note it</button>
      </form>
    </section>
  );
}
