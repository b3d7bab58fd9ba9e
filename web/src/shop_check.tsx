/* All that looks wrong in the book by today's rules, each with its mend: a button leads to the pull, its form filled in as far as
 * the program knows it. Nothing is changed by looking. */
import { useState } from 'preact/hooks';
import { api, type Checked } from './api';
import { fillAmend } from './amend';
import { fixed, words } from './format';
import { followJob } from './predict_job';
import { complain, go, say, units } from './state';
import { t, tn } from './words';

type Row = Checked['findings'][number];

function Mend({ row, onDone }: { row: Row; onDone: () => void }) {
  const ask = row.asks[0];
  if (ask?.what === 'again') return <button type="button" onClick={() => { api.askAgain().then((r) => { say(tn('{n} answer was asked again.', '{n} answers were asked again.', r.answers.length)); onDone(); }, complain); }}>Ask again</button>;
  if (row.pull == null || (ask && ask.what === 'cell')) return row.mend ? <code translate={false}>enginewright {row.mend}</code> : null;
  const pull = row.pull;
  return <button type="button" onClick={() => { fillAmend(pull, row.asks); go('pulls', { a: String(pull) }); }}>{t('Correct pull {pull}', { pull })}</button>;
}

export function WhatLooksWrong() {
  const [found, setFound] = useState<Row[] | null>(null);
  const [busy, setBusy] = useState<string | null>(null);
  const look = async () => {
    setBusy(t('looking…'));
    try {
      const answer = await followJob<Checked>(await api.checkStart(units.value), (share) => setBusy(t('looking: {share} %', { share: fixed(100 * share, 0) })));
      setFound(answer?.findings ?? null);
      if (!answer) say(t('Another device asked too: its check goes on, this one was ended.'));
    } catch (problem) { complain(problem); }
    setBusy(null);
  };
  return (
    <section class="card">
      <h2>What looks wrong in this book</h2>
      <p class="tools"><button type="button" disabled={busy != null} onClick={() => void look()}>Look through it</button></p>
      <p role="status">{busy ?? (found == null ? '' : found.length === 0 ? t('Nothing in this book looks wrong.') : tn('{n} thing looks wrong:', '{n} things look wrong:', found.length))}</p>
      {found && found.length > 0 && <ul class="findings">{found.map((row, i) => <li key={i}>{row.pull == null ? words(row.finding.text) : t('Pull {pull}: {question}', { pull: row.pull, question: words(row.finding.text) })} <Mend row={row} onDone={() => void look()} /></li>)}</ul>}
      <p class="quiet">Each pull is worked out again from raw and held against today's rules, old ones too; what somebody said is right is not asked again. Nothing is changed by looking.</p>
    </section>
  );
}
