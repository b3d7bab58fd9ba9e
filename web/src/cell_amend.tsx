/* A figure of the cell's record was wrong: the pulls that were computed with another one are listed first, then amended when that is meant, with
 * progress; stopped, the same request goes on with the rest. And the contrary: its inertia looks odd and is right, said once. */
import { useState } from 'preact/hooks';
import { api, type CellAmended, type CellTyped } from './api';
import { useDraft } from './draft';
import { fixed, words } from './format';
import { followJob } from './predict_job';
import { changes, complain, say, units } from './state';
import { t, tn } from './words';

const MOST = 40;

export function CellWrong({ rows }: { rows: [string, () => string, string][] }) {
  const [field, setField] = useDraft('cell-wrong-field', 'rotor_inertia');
  const [value, setValue] = useDraft('cell-wrong-value', '');
  const [reason, setReason] = useDraft('cell-wrong-reason', '');
  const [found, setFound] = useState<CellAmended['concerned'] | null>(null);
  const [share, setShare] = useState<number | null>(null);
  const [job, setJob] = useState(0);
  const shows = rows.find(([key]) => key === field)?.[2] ?? '';
  const run = async (sure: boolean) => {
    setShare(0);
    try {
      const begun = await api.cellAmend({ [field]: value }, reason, sure, units.value);
      setJob(begun);
      const answer = await followJob<CellAmended>(begun, setShare);
      if (answer == null) say(t('Stopped before anything was amended.'));
      else if (!sure) setFound(answer.concerned);
      else {
        const done = answer.amended ?? 0;
        say(answer.stopped ? tn('Stopped: {n} pull is amended, the rest is as it was; the same again goes on with it.', 'Stopped: {n} pulls are amended, the rest is as it was; the same again goes on with it.', done)
          : tn('{n} pull was amended, and the record holds for pulls to come.', '{n} pulls were amended, and the record holds for pulls to come.', done));
        setFound(null);
        if (!answer.stopped) { setValue(''); setReason(''); }
        changes.value++;
      }
    } catch (problem) { complain(problem); }
    setShare(null);
    setJob(0);
  };
  const busy = share != null, typed = value.trim() !== '' && reason.trim() !== '';
  const edit = (set: (text: string) => void) => (e: { currentTarget: { value: string } }) => { set(e.currentTarget.value); setFound(null); };
  return (
    <details>
      <summary>A figure was wrong for pulls that were run</summary>
      <form class="stack" onSubmit={(e) => { e.preventDefault(); void run(false); }}>
        <label for="cell-wrong">Which figure</label><select id="cell-wrong" value={field} onChange={edit(setField)}>{rows.filter(([key]) => key !== 'name').map(([key, says]) => <option key={key} value={key}>{says()}</option>)}</select>
        <label>How it is <input value={value} placeholder={shows} onInput={edit(setValue)} /></label>
        <label>Why it was wrong <input value={reason} maxLength={400} onInput={edit(setReason)} /></label>
        <p class="tools"><button type="submit" disabled={busy || !typed}>List the pulls</button>
          {found && <button type="button" disabled={busy || !typed} onClick={() => void run(true)}>{found.length ? tn('Amend {n} pull', 'Amend {n} pulls', found.length) : t('Change the record')}</button>}
          {busy && job > 0 && <button type="button" onClick={() => { api.predictCancel(job).catch(complain); }}>Stop</button>}</p>
      </form>
      <p role="status">{busy ? t('{share} % done', { share: fixed(100 * share, 0) }) : found == null ? '' : found.length === 0 ? t('No pull was computed with another figure.') : tn('{n} pull would be computed again:', '{n} pulls would be computed again:', found.length)}</p>
      {busy && <progress value={share} max={1} aria-label={t('Amending')} />}
      {found && found.length > 0 && <ul class="findings">{found.slice(0, MOST).map((one) => <li key={one.pull}>{t('Pull {pull}: {question}', { pull: one.pull, question: one.changes.map((c) => words(c.text)).join('; ') })}</li>)}
        {found.length > MOST && <li>{tn('and {n} more', 'and {n} more', found.length - MOST)}</li>}</ul>}
    </details>
  );
}

export function CellRight({ right }: { right: CellTyped['right'] }) {
  const [how, setHow] = useDraft('cell-right-how', '');
  const keep = async () => {
    const answer = await api.cellRight(how);
    setHow('');
    changes.value++;
    say(answer.released.length ? tn('Kept: {n} pull that was held for it is used again.', 'Kept: {n} pulls that were held for it are used again.', answer.released.length) : t('Kept: pulls with this inertia are not asked about.'));
  };
  if (right?.holds) return (
    <p class="tools">{t('Its inertia is right, as {who} said: {how}', { who: right.who ?? '-', how: right.how ?? '' })} <button type="button" onClick={() => { api.cellRightBack().then(() => { changes.value++; }, complain); }}>Take it back</button></p>
  );
  return (
    <details>
      <summary>Its inertia looks odd and is right</summary>
      <form class="stack" onSubmit={(e) => { e.preventDefault(); keep().catch(complain); }}>
        <label>How it was measured <input value={how} maxLength={400} placeholder={t('run-down, twice, 3 May')} onInput={(e) => setHow(e.currentTarget.value)} /></label>
        <button type="submit" disabled={how.trim() === ''}>It is right</button>
      </form>
    </details>
  );
}
