/* Devices on the network: a one-time code for one, and taking rights away. */
import { useEffect, useState } from 'preact/hooks';
import { api, type Devices } from './api';
import { ClearText } from './door';
import { book, complain, say } from './state';
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

/* A tablet in somebody's hand loses its rights, and needs a new code at this machine: asks once. */
const ASK_MS = 5000, TWICE_MS = 400; /* sooner than this the second press is the first one's bounce */
function Revoke({ name, revoke }: { name: string; revoke: () => void }) {
  const [asked, setAsked] = useState(0);
  useEffect(() => {
    if (!asked) return undefined;
    const timer = setTimeout(() => setAsked(0), ASK_MS);
    return () => clearTimeout(timer);
  }, [asked]);
  const press = () => {
    if (!asked) { setAsked(performance.now()); return; }
    if (performance.now() - asked < TWICE_MS) return;
    setAsked(0);
    revoke();
  };
  return <button type="button" aria-label={asked ? t('Press again to revoke: {device}', { device: name }) : t('Revoke: {device}', { device: name })} onClick={press}>{asked ? t('Press again to revoke') : t('Revoke')}</button>;
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
          <table class="list"><tbody>{devices.devices.map((d) => <tr key={d.id}><th scope="row" translate={false}>{d.name}</th><td>{d.rights}</td><td>{date(d.paired_at)}</td><td><Revoke name={d.name} revoke={() => { api.deviceRevoke(d.id).then(() => { say(t('{device} is revoked.', { device: d.name })); load(); }, complain); }} /></td></tr>)}</tbody></table>}
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
