/* The logo on the sheets: seen, chosen from a file, taken away. */
import { useState } from 'preact/hooks';
import { api, type Shop } from './api';
import { changes, complain, say } from './state';
import { t } from './words';

const MOST_BYTES = 1 << 20;
async function put(file: Blob) {
  const response = await fetch('/api/v1/logo', { method: 'POST', headers: { 'Content-Type': 'application/octet-stream' }, body: file });
  if (!response.ok) throw new Error(((await response.json()) as { error?: string }).error ?? response.statusText);
}

export function Logo({ shop }: { shop: Shop }) {
  const [wrong, setWrong] = useState(''), [version, setVersion] = useState(0);
  const done = (says: string, undo?: () => void) => { setVersion((v) => v + 1); changes.value++; say(says, undo); };
  const choose = (input: HTMLInputElement) => {
    const file = input.files?.[0];
    input.value = '';
    if (!file) return;
    if (file.size > MOST_BYTES) { setWrong(t('{file}: a logo has at most 1 MB', { file: file.name })); return; }
    setWrong('');
    put(file).then(() => { done(t('The logo is kept; the sheets have it from now on.')); }, (problem: Error) => { setWrong(problem.message); });
  };
  const away = async () => {
    const was = await (await fetch('/api/v1/logo')).blob(); /* for whoever did not mean it */
    await api.settings({ logo: '' });
    done(t('The sheets have no logo from now on.'), () => { put(was).then(() => { done(t('The logo is kept; the sheets have it from now on.')); }, complain); });
  };
  return (
    <div class="logo-choice">
      {shop.logo && <img src={`/api/v1/logo?${version}`} alt={t('The logo of the sheets')} />}
      <label>Logo on the sheets <input type="file" accept="image/png" aria-invalid={wrong ? 'true' : undefined} onChange={(e) => choose(e.currentTarget)} /></label>
      {wrong && <p class="problem" role="alert">{wrong}</p>}
      {shop.logo && <button type="button" onClick={() => { away().catch(complain); }}>Take it away</button>}
    </div>
  );
}
