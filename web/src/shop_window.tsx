/* The shop: what a customer at the window sees, and what was told of an engine after it left. */
import { useEffect, useState } from 'preact/hooks';
import { api, type Build, type LiveGauge } from './api';
import { book, changes, complain, loadBook, say, units } from './state';
import { date, duration } from './format';
import { stamp } from './clock';
import { useDraft } from './draft';
import { usual, windowKeys } from './window_keys';
import { Words } from './words_field';
import { t, tn } from './words';

export function WindowSetting() {
  const [gauges, setGauges] = useState<LiveGauge[]>([]);
  useEffect(() => { api.live().then((l) => setGauges(l.gauges), complain); }, []);
  const now = windowKeys();
  const all = [...usual.map((key) => ({ key, label: key })), ...gauges.filter((g) => !usual.includes(g.key))];
  const keep = (keys: string[], before: string[]) => api.settings({ window: keys.join(',') }).then(async () => {
    await loadBook();
    say(t('What the window shows is kept.'), () => { void keep(before, keys); });
  }, complain);
  const tick = (key: string, on: boolean) => { void keep(all.map((g) => g.key).filter((k) => k === key ? on : now.includes(k)), now); };
  return (
    <section class="card">
      <h2>The window, for the customer</h2>
      <fieldset class="window-keys"><legend class="quiet">What the customer may see; no name but the shop's is shown. With none ticked: speed, torque, power.</legend>
        {all.map((g) => <label key={g.key} class="tick"><input type="checkbox" checked={now.includes(g.key)} onChange={(e) => tick(g.key, e.currentTarget.checked)} /> {g.label}</label>)}
      </fieldset>
      <p><a href="#/window">Look through the window</a></p>
    </section>
  );
}

const empty = { what: '', running: '', runs: '', who: '' };

export function AfterDelivery() {
  const [build, setBuild] = useState<Build | null>(null);
  const [typed, setTyped] = useDraft('after', empty);
  const version = changes.value, engine = book.value?.engine;
  useEffect(() => { if (engine) api.build(units.value, "").then(setBuild, complain); else setBuild(null); }, [version, engine]);
  const set = (key: keyof typeof empty) => (text: string) => { setTyped((old) => ({ ...old, [key]: text })); };
  const submit = (e: Event) => {
    e.preventDefault();
    const filled = Object.fromEntries(Object.entries(typed).filter(([, text]) => text.trim() !== ''));
    api.buildRecord('after', { ...filled, at: stamp().slice(0, 19) + 'Z' }).then(() => { setTyped(empty); changes.value++; say(t('Kept with the build.')); }, complain);
  };
  return (
    <section class="card">
      <h2>After delivery {engine && <span class="quiet" translate={false}>{engine}</span>}</h2>
      {!build?.begun ? <p class="quiet">{engine ? t('No build record of the engine in the cell yet:') : t('No engine in the cell:')} <a href={engine ? '#/build' : '#/engine'}>begin there</a></p> : <>
        {(build.after ?? []).length === 0 ? <p class="quiet">Nothing on record yet.</p> :
          <ul class="after">{[...build.after!].reverse().map((a) => <li key={a.at + a.what}><span class="quiet">{date(a.at)}</span> <span translate={false}>{a.what}</span> <span class="quiet" translate={false}>{[a.running_s ? duration(a.running_s) : '', a.runs ? tn('{n} run', '{n} runs', Number(a.runs)) : '', a.who].filter(Boolean).join(', ')}</span></li>)}</ul>}
        <form class="stack" onSubmit={submit}>
          <Words label="What was said or done" required most={400} value={typed.what} onText={set('what')} placeholder="plugs look even; oil changed" />
          <label>Running time to add <input value={typed.running} onInput={(e) => set('running')(e.currentTarget.value)} placeholder="3 h" /></label>
          <label>Runs or starts to add <input inputMode="numeric" value={typed.runs} onInput={(e) => set('runs')(e.currentTarget.value)} placeholder="12" /></label>
          <Words label="Who" most={100} value={typed.who} onText={set('who')} />
          <button type="submit">Keep</button>
        </form></>}
    </section>
  );
}
