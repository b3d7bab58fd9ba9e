/* Which table of alarms the next session watches: the book's own, the template, or one from a file of this device, for this session only. */
import { useState } from 'preact/hooks';
import type { AlarmTable } from './api';
import { complain } from './state';
import { t } from './words';

const MOST_BYTES = 65536; /* as the server reads */

export function AlarmTableChoice({ chosen, onChoose }: { chosen: AlarmTable; onChoose: (table: AlarmTable) => void }) {
  const [file, setFile] = useState(chosen.alarms_table !== undefined), [wrong, setWrong] = useState('');
  const read = async (one: File | undefined) => {
    setWrong('');
    onChoose({});
    if (!one) return;
    if (one.size > MOST_BYTES) { setWrong(t('{file}: a table of alarms has at most 64 kB', { file: one.name })); return; }
    onChoose({ alarms: one.name, alarms_table: await one.text() });
  };
  const choose = (value: string) => { setFile(value === 'file'); setWrong(''); onChoose(value === 'template' ? { alarms: 'template' } : {}); };
  return (<>
    <label>Alarms <select value={file ? 'file' : chosen.alarms ?? ''} onChange={(e) => choose(e.currentTarget.value)}>
      <option value="">the book's own, else the template</option><option value="template">the template</option><option value="file">from a file…</option></select></label>
    {file && <label>Table of alarms <input type="file" required accept=".yaml,.yml,text/yaml" aria-invalid={wrong ? 'true' : undefined} onChange={(e) => { read(e.currentTarget.files?.[0]).catch(complain); }} /></label>}
    {file && <p class={wrong ? 'problem' : 'quiet'} role={wrong ? 'alert' : undefined}>{wrong || (chosen.alarms_table !== undefined ? t('For this session only: {file}. The table in the book stays as it is.', { file: chosen.alarms ?? '' }) : t('As cell alarms --template prints one; nothing is begun before a file is chosen.'))}</p>}
  </>);
}
