/* Narrowing the list: words at once; day, engine, state and order behind a word that opens. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import { api, type EngineLine, type Pull } from './api';
import { examples, narrow, narrowOf, narrows, NOTHING, ORDERS, STATES, toAddress, type Narrow } from './pulls_find';
import { show } from './pulls_seen';
import { route } from './state';
import { t } from './words';

const states = (): Record<Narrow['state'], string> => ({ all: t('all'), counts: t('that count'), held: t('held'), discarded: t('discarded'), tripped: t('an alarm tripped'), amended: t('amended'), other: t('heat, check and other') });
const orders = (): Record<Narrow['order'], string> => ({ newest: t('newest first'), oldest: t('oldest first'), torque: t('most mean torque first'), speed: t('highest speed first') });

const STILL_MS = 300;
let written = ''; /* what this page itself put into the address last */
/* The address that comes says what is narrowed; what is narrowed here stands in the address a moment after it stands still. */
function useAddress() {
  const said = JSON.stringify(narrowOf(route.value.query)), now = narrow.value, here = JSON.stringify(now);
  useEffect(() => { if (said !== 'null' && said !== written && said !== here) narrow.value = JSON.parse(said) as Narrow; }, [said]);
  useEffect(() => {
    const timer = setTimeout(() => { written = here; show(toAddress(now)); }, STILL_MS);
    return () => { clearTimeout(timer); };
  }, [here, said]);
}

export function Find({ pulls }: { pulls: Pull[] }) {
  useAddress();
  const n = narrow.value, put = (some: Partial<Narrow>) => { narrow.value = { ...narrow.value, ...some }; };
  const ids = useMemo(() => [...new Set(pulls.map((p) => p.engine_id))], [pulls]);
  const [engines, setEngines] = useState<EngineLine[]>([]), [open, setOpen] = useState(narrows(n));
  useEffect(() => { if (open && ids.length > 1 && engines.length === 0) api.engines('').then((r) => setEngines(r.engines), () => undefined); }, [open, ids.length]);
  const nameOf = (id: number) => { const e = engines.find((one) => one.id === id); return e ? [e.name, e.serial].filter(Boolean).join(', ') : t('engine {n}', { n: id }); };
  return (<>
    <input type="search" placeholder={t('Find: {examples}', { examples: examples() })} aria-label="Find pulls" value={n.text} onInput={(e) => put({ text: e.currentTarget.value })} />
    <details class="filter" open={open} onToggle={(e) => setOpen(e.currentTarget.open)}><summary>{narrows(n) ? t('Narrowed') : t('Narrow and order')}</summary>
      <div class="filter-fields">
        <label>{t('From')} <input type="date" value={n.from} max={n.to || undefined} onInput={(e) => put({ from: e.currentTarget.value })} /></label>
        <label>{t('To')} <input type="date" value={n.to} min={n.from || undefined} onInput={(e) => put({ to: e.currentTarget.value })} /></label>
        {ids.length > 1 && <label>{t('Engine')} <select value={n.engine} onChange={(e) => put({ engine: Number(e.currentTarget.value) })}><option value={0}>{t('all')}</option>{ids.map((id) => <option key={id} value={id}>{nameOf(id)}</option>)}</select></label>}
        <label>{t('Pulls')} <select value={n.state} onChange={(e) => put({ state: e.currentTarget.value as Narrow['state'] })}>{STATES.map((s) => <option key={s} value={s}>{states()[s]}</option>)}</select></label>
        <label>{t('Order')} <select value={n.order} onChange={(e) => put({ order: e.currentTarget.value as Narrow['order'] })}>{ORDERS.map((o) => <option key={o} value={o}>{orders()[o]}</option>)}</select></label>
        {narrows(n) && <button type="button" class="plain" onClick={() => put({ ...NOTHING, text: n.text })}>All again</button>}
      </div>
    </details>
  </>);
}
