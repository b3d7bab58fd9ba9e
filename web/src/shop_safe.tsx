/* The book in safe keeping: copies beside it, and whether it is whole. */
import { useEffect, useState } from 'preact/hooks';
import { api, type Backups, type Shop, type Verified } from './api';
import { useAsked } from './answered';
import { ago, isStuck, useSending } from './shop_store';
import { book, changes, complain, say } from './state';
import { date, fixed, time } from './format';
import { followJob } from './predict_job';
import { inWords, t, tn, tx } from './words';

const OLD_DAYS = 7; /* common practice, no source: a week's work is what a shop would do again */
const newest = (kept: Backups) => kept.backups.map((b) => b.at).filter((at): at is string => at != null).sort().pop() ?? null;
const days = (at: string) => ago(at) / 86400;

/* What is not safe, or due, before anything else of the screen: one line each, with where it is mended. */
export function NotSafe({ shop }: { shop: Shop }) {
  const { answer: kept } = useAsked('backups-first', api.backups, [changes.value]);
  const sending = useSending();
  const last = kept ? newest(kept) : undefined, due = shop.calibrations_due.filter((d) => d.state !== 'holds' && d.state !== 'done today' && d.state !== 'no date');
  const lines = [
    ...(last === null ? [t('The book has no backup yet.')] : last && days(last) > OLD_DAYS ? [t('The newest backup is {n} days old.', { n: fixed(days(last), 0) })] : []),
    ...due.map((d) => t('{what}: {state}.', { what: inWords(d.what), state: inWords(d.state) })),
    ...(sending && isStuck(sending) ? [tn("{n} entry waits for the shop's store.", "{n} entries wait for the shop's store.", sending.waiting)] : []),
  ];
  if (!kept) return null; /* not known yet is not in order */
  if (lines.length === 0) return <p class="quiet in-order">Backup, calibrations and store are in order.</p>;
  return <ul class="mind not-safe">{lines.map((says) => <li key={says}>{says}</li>)}</ul>;
}

export function SafeKeeping() {
  const [kept, setKept] = useState<Backups | null>(null);
  const [verified, setVerified] = useState<Verified | null>(null);
  const [busy, setBusy] = useState<string | null>(null);
  const version = changes.value;
  useEffect(() => { api.backups().then(setKept, complain); }, [version]);
  const during = (what: string, work: Promise<void>) => { setBusy(what); work.catch(complain).finally(() => setBusy(null)); };
  const verify = async () => {
    setVerified(null);
    const answer = await followJob<Verified>(await api.verifyStart(), (share) => setBusy(t('computing every digest and curve again: {share} %', { share: fixed(100 * share, 0) })));
    setVerified(answer);
    if (!answer) say(t('Another device asked too: its check goes on, this one was ended.'));
  };
  return (
    <section class="card">
      <h2>The book in safe keeping</h2>
      <p class="tools">
        <button type="button" disabled={busy != null} onClick={() => during(t('copying…'), api.backup().then((r) => { say(t('Copied to {file}.', { file: r.backup })); changes.value++; }))}>Back up now</button>
        <button type="button" disabled={busy != null} onClick={() => during(t('computing every digest and curve again…'), verify())}>Is it whole?</button>
      </p>
      <p role="status">{busy ?? (verified == null ? '' : verified.whole ? t('Whole: {recordings} recordings and {curves} curves, computed again from raw.', { recordings: verified.recordings, curves: verified.curves }) : t('NOT WHOLE: keep a copy as it is and go back to a backup. {problems}', { problems: verified.problems.slice(0, 5).join('; ') }))}</p>
      {kept && newest(kept) && <p class={days(newest(kept)!) > OLD_DAYS ? 'grave-word' : ''}>{t('Newest copy: {time} UTC, {ago}.', { time: `${date(newest(kept))} ${time(newest(kept))}`, ago: days(newest(kept)!) < 1 ? t('today') : tn('{n} day ago', '{n} days ago', Math.floor(days(newest(kept)!))) })}</p>}
      {kept && (kept.backups.length === 0 ? <p class="quiet">{t('No copy in {folder} yet.', { folder: kept.folder })}</p> : <><p class="quiet">{t('In {folder}, beside the book:', { folder: kept.folder })}</p>
        <ul>{kept.backups.slice(0, 8).map((b) => <li key={b.name}>{book.value?.may_write ? <a href={api.backupAddress(b.name)} download={b.name}>{b.name}</a> : b.name} <span class="quiet">{fixed(b.bytes / 1e6, 1)} MB</span></li>)}</ul></>)}
      <p class="quiet">{tx("A copy on the same disk is lost with the disk: take one elsewhere too, with {command}. It holds the whole book, customers' names included.", { command: <code>enginewright book backup FILE</code> })} {book.value?.may_write ? t('Or download one here.') : ''}</p>
    </section>
  );
}
