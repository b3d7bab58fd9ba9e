/* Devices on the network: pairing by a one-time code, and taking rights away. */
import { useEffect, useState } from 'preact/hooks';
import { api, type Devices } from './api';
import { book, complain, go, loadBook, openStream, route, said, say, unpaired } from './state';
import { date } from './format';
import { t, tx } from './words';

function Symbol({ rows }: { rows: string[] }) {
  const n = rows.length;
  return (
    <svg class="symbol" viewBox={`-4 -4 ${n + 8} ${n + 8}`} role="img" aria-label="The same as a picture for a camera" shape-rendering="crispEdges">
      <rect x="-4" y="-4" width={n + 8} height={n + 8} fill="#fff" />
      {rows.flatMap((row, y) => [...row].map((m, x) => m === '1' ? <rect key={`${x},${y}`} x={x} y={y} width="1" height="1" fill="#000" /> : null))}
    </svg>
  );
}

export function DevicesCard() {
  const [devices, setDevices] = useState<Devices | null>(null);
  const [code, setCode] = useState<{ code: string; addresses: string[]; symbol?: string[] } | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const served = book.value?.lan ?? false;
  const load = () => { if (served) api.devices().then(setDevices, (e: Error) => setProblem(e.message)); };
  useEffect(load, [served]);
  const ask = (rights: string) => () => { api.deviceCode(rights).then(setCode, complain); };
  return (
    <section class="card">
      <h2>Tablets and window screens</h2>
      {!served && <p class="quiet">{tx('This page is served to this machine only. For tablets and window screens it is started for the network: see {chapter} in the manual.', { chapter: <span translate={false}>“The page”</span> })}</p>}
      {problem && <p class="quiet">{problem[0]?.toUpperCase()}{problem.slice(1)}</p>}
      {book.value?.clear_text && <ClearText />}
      {devices?.problem && <p class="said grave">{t('No device has any rights: {why}', { why: devices.problem })}</p>}
      {devices && devices.pair_again.length > 0 && <p class="said">{tx('Pair again: {names}. An earlier version, or another machine, kept their rights in the book, where they no longer count.', { names: <span translate={false}>{devices.pair_again.join(', ')}</span> })}</p>}
      {devices && (<>
        {devices.devices.length === 0 ? <p class="quiet">No device is paired.</p> :
          <table class="list"><tbody>{devices.devices.map((d) => <tr key={d.id}><th scope="row" translate={false}>{d.name}</th><td>{d.rights}</td><td>{date(d.paired_at)}</td><td><button type="button" onClick={() => { api.deviceRevoke(d.id).then(() => { say(t('{device} is revoked.', { device: d.name })); load(); }, complain); }}>Revoke</button></td></tr>)}</tbody></table>}
        <p class="tools"><button type="button" onClick={ask('view')}>Code to look</button><button type="button" onClick={ask('write')}>Code to write</button><button type="button" onClick={ask('send')}>Code to write and to send to the dyno</button></p>
        {code && (<div>
          <p class="big figure">{code.code.slice(0, 4)} {code.code.slice(4)}</p>
          <p>{tx('On the device, open {address} and type the code. It works once, for 10 minutes.', { address: <>{code.addresses.map((a) => <b key={a} translate={false}>{a} </b>)}</> })}</p>
          {code.symbol && <Symbol rows={code.symbol} />}
        </div>)}
      </>)}
    </section>
  );
}

/* The serving machine's own browser: it is let in by the link that the command printed, and by nothing else. */
const keyIn = (text: string) => /key=([0-9a-f]+)/.exec(text)?.[1] ?? text.trim();
export async function enter(key: string): Promise<void> {
  try { await api.open(key); } catch (problem) { complain(problem); }
  history.replaceState(null, '', '#/day'); /* the key leaves the address bar and the history */
  dispatchEvent(new HashChangeEvent('hashchange'));
  openStream();
  await loadBook();
  if (book.value && !unpaired.value) said.value = null;
}

function OpenTheLink() {
  const [link, setLink] = useState('');
  return (
    <section class="first">
      <h1>{tx('Open the link that {command} printed', { command: <code translate={false}>enginewright serve</code> })}</h1>
      <p class="lead">This browser has not been let in. The link is in the terminal in which the page was started. This browser then keeps its key; another browser, or a private window, needs the link once too.</p>
      <form class="stack card" onSubmit={(e) => { e.preventDefault(); void enter(keyIn(link)); }}>
        <label>Or paste it here <input required maxLength={300} autocomplete="off" value={link} onInput={(e) => setLink(e.currentTarget.value)} /></label>
        <button type="submit">Open</button>
      </form>
    </section>
  );
}
export const Door = () => ['127.0.0.1', 'localhost', '[::1]'].includes(location.hostname) ? <OpenTheLink /> : <Pair />;

/* Without TLS, what a network carries can be read by whoever sits in it. */
const ClearText = () => <p class="quiet">{tx('This network carries the page in clear text: anybody on it can read the figures and take a device’s key. Use a network of your own, or start with {certificate} and {key}.',
  { certificate: <code translate={false}>--certificate</code>, key: <code translate={false}>--key</code> })}</p>;

export function Pair() {
  const [code, setCode] = useState(route.value.query.get('code') ?? '');
  const [name, setName] = useState('');
  const submit = (e: Event) => {
    e.preventDefault();
    api.pair(code.replace(/\D/g, ''), name).then(() => { openStream(); void loadBook().then(() => { if (book.value) go('day'); }); }, complain);
  };
  return (
    <section class="first">
      <h1>Pair this device</h1>
      <p class="lead">The code is shown on the machine that serves the page: Shop, Tablets and window screens.</p>
      <form class="stack card" onSubmit={submit}>
        <label>Code <input required inputMode="numeric" pattern="[0-9 ]*" maxLength={9} autocomplete="one-time-code" value={code} onInput={(e) => setCode(e.currentTarget.value)} /></label>
        <label>This device is <input placeholder="tablet at the engine" maxLength={80} value={name} onInput={(e) => setName(e.currentTarget.value)} /></label>
        <button type="submit">Pair</button>
      </form>
      {location.protocol === 'http:' && <ClearText />}
    </section>
  );
}
