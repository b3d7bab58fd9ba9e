/* The door: the link that the command printed lets this machine's own browser in, a one-time code another device. */
import { useState } from 'preact/hooks';
import { api } from './api';
import { book, complain, go, loadBook, openStream, route, said, unpaired } from './state';
import { tx } from './words';

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
export const ClearText = () => <p class="quiet">{tx('This network carries the page in clear text: anybody on it can read the figures and take a device’s key. Use a network of your own, or start with {certificate} and {key}.',
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
