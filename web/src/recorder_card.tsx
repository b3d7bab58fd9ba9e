/* The first file with these columns, of which some was taken as usual: how such files are read is kept under the recorder's name, from
 * here. Until the next file, or until it is put away; nothing is lost by that, as the program says so on the command line too. */
import { useState } from 'preact/hooks';
import { api } from './api';
import { offered } from './drop';
import { complain, say } from './state';
import { Words } from './words_field';
import { t } from './words';

export function RecorderCard() {
  const [name, setName] = useState('');
  const one = offered.value[0];
  if (!one) return null;
  const away = () => { offered.value = offered.value.slice(1); setName(''); };
  const keep = (e: Event) => {
    e.preventDefault();
    api.keepRecorder(one.recording, name).then((kept) => { away(); say(t('Files of {recorder} are read so from now on.', { recorder: kept.name })); }, complain);
  };
  return (
    <section class="card" role="region" aria-label={t('A new recorder')}>
      <p>{t('{file} is the first file with these columns, and some of it was taken as usual: look at its units and its mixture. If they are right, give the recorder a name, and its files are read so from now on.', { file: one.file })}</p>
      <form class="line-form" onSubmit={keep}><Words label={t('Recorder')} required most={80} value={name} onText={setName} /><button type="submit">Keep how it is read</button><button type="button" onClick={away}>Not now</button></form>
    </section>
  );
}
