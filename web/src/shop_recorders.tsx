/* Profiles of recorders: which loggers this shop knows, how their files are read, and one withdrawn. A new one comes from a file (Pulls). */
import { useState } from 'preact/hooks';
import { useDraft } from './draft';
import { api, type Recorders } from './api';
import { useQuestion } from './answered';
import { book, changes, complain, say } from './state';
import { date } from './format';
import { t } from './words';

function One({ one }: { one: Recorders['recorders'][number] }) {
  const [reason, setReason] = useDraft(`recorder-withdraw-${one.name}`, '');
  const [asks, setAsks] = useState(reason !== '');
  const withdraw = (e: Event) => {
    e.preventDefault();
    api.recorderWithdraw(one.name, reason.trim()).then(() => { say(t('{recorder}: withdrawn. Its files are asked about again.', { recorder: one.name })); setAsks(false); setReason(''); changes.value++; }, complain);
  };
  return (
    <li><span><b translate={false}>{one.name}</b> <span class="quiet">{[t('version {n}', { n: one.version }), date(one.at), one.who ?? ''].filter(Boolean).join(', ')}</span>{one.withdrawn != null && <span class="grave-word"> <span translate={false}>{t('withdrawn: {why}', { why: one.withdrawn })}</span></span>}
      <details><summary>How its files are read</summary><pre tabIndex={0} class="scroll profile" translate={false}>{one.profile}</pre></details></span>
      {one.withdrawn == null && book.value?.may_write && (asks ? <form class="line-form" onSubmit={withdraw}><label>Reason <input required maxLength={300} value={reason} onInput={(e) => { setReason(e.currentTarget.value); }} /></label><button type="submit">Withdraw</button><button type="button" class="plain" onClick={() => setAsks(false)}>Leave it</button></form>
        : <button type="button" class="plain" aria-label={t('Withdraw: {reading}', { reading: one.name })} onClick={() => setAsks(true)}>Withdraw</button>)}</li>
  );
}

export function RecordersCard() {
  const { answer, why } = useQuestion('recorders', api.recorders, [changes.value]);
  return (
    <section class="card">
      <h2>Recorders</h2>
      {!answer ? <p class="quiet">{why}</p> : answer.length === 0 ? <p class="quiet">No recorder has a profile yet. After the first file of one, Pulls offers to keep how it was read.</p> : <ul class="kept-list">{answer.map((one) => <One key={one.name} one={one} />)}</ul>}
    </section>
  );
}
