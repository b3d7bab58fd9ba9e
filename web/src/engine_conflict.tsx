/* What two people typed at once: each field in which they differ, and ways out of which none loses anything. */
import type { Typed } from './api';
import { flat } from './engine_typed';
import { t } from './words';

export const fieldName = (path: string) => path.replace('.', ', ').replaceAll('_', ' ');

export function Conflict({ says, base, mine, theirs, onTheirs, onBoth, onMine }: { says: string; base: Typed; mine: Typed; theirs: Typed; onTheirs: () => void; onBoth: () => void; onMine: () => void }) {
  const from = flat(base), own = flat(mine), other = flat(theirs), keys = [...new Set([...own.keys(), ...other.keys()])].filter((k) => own.get(k) !== other.get(k));
  const both = keys.filter((k) => own.get(k) !== from.get(k) && other.get(k) !== from.get(k));
  return (
    <section class="said grave conflict" role="alert" aria-label="Two people changed this engine">
      <p>{says}</p>
      <ul>{keys.slice(0, 12).map((k) => <li key={k}>{fieldName(k)}: <span translate={false}>{t('theirs {theirs}, yours {yours}', { theirs: other.get(k) ?? t('empty'), yours: own.get(k) ?? t('empty') })}</span>{both.includes(k) ? ' ' + t('(changed by both)') : ''}</li>)}{keys.length > 12 && <li>{t('and {n} more', { n: keys.length - 12 })}</li>}</ul>
      <p class="tools"><button type="button" onClick={onBoth}>Put my changes into theirs</button><button type="button" onClick={onTheirs}>Load theirs</button><button type="button" onClick={onMine}>Replace theirs with mine</button></p>
    </section>
  );
}
