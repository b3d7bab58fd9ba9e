/* The cell and the shop's clock: what every pull to come is computed and dated by. A pull that ran with a wrong record is amended. */
import { useState } from 'preact/hooks';
import { api, Refusal } from './api';
import { useQuestion } from './answered';
import { CellRight, CellWrong } from './cell_amend';
import { useDraft } from './draft';
import { book, changes, complain, loadBook, say } from './state';
import { t } from './words';

/* First; the rest of the record is for who knows what it does. */
const ROWS: [string, () => string, string][] = [
  ['name', () => t('Name of the cell'), 'cell 1'],
  ['rotor_inertia', () => t('Inertia of the rotor'), '0.105 kg·m2'],
  ['coupling_inertia', () => t('Inertia of shaft and coupling'), '0.030 kg·m2'],
  ['arm', () => t('Torque arm'), '400 mm'],
  ['largest_torque', () => t("Absorber's torque limit"), '900 N·m'],
  ['largest_speed', () => t("Absorber's speed limit"), '9000 rpm'],
  ['elevation', () => t('Height above sea level'), '310 m'],
];

export function CellCard() {
  const { answer } = useQuestion('cell', api.cell, [changes.value]);
  const [typed, setTyped] = useDraft<Record<string, string>>('cell', {});
  const [zone, setZone] = useDraft('cell-zone', '');
  const [wrong, setWrong] = useState<{ field: string; says: string } | null>(null);
  if (!answer) return null;
  const now = (key: string) => typed[key] ?? answer.typed[key] ?? '';
  const put = (key: string, text: string) => { setTyped((old) => ({ ...old, [key]: text })); if (wrong?.field === key) setWrong(null); };
  const rest = answer.groups.flatMap((g) => g.fields).filter((f) => !ROWS.some(([key]) => key === f.name));
  const known = book.value?.settings['zone'] ?? '';
  const keep = async () => {
    if (zone && zone !== known) await api.settings({ zone });
    if (Object.keys(typed).length > 0) await api.cellKeep(typed);
    setTyped({}); setZone(''); setWrong(null);
    await loadBook();
    changes.value++;
    say(t('Kept: it holds for pulls to come.'));
  };
  const refused = (problem: unknown) => {
    if (problem instanceof Refusal && problem.field) setWrong({ field: problem.field, says: problem.message.replace(/^cell: /, '') }); else complain(problem);
  };
  const minds = (key: string) => wrong?.field === key ? <span class="problem over" role="alert">{wrong.says}</span> : null, bad = (key: string) => wrong?.field === key ? 'true' as const : undefined;
  return (
    <section class="card">
      <h2>The cell and its clock</h2>
      <form class="stack" onSubmit={(e) => { e.preventDefault(); keep().catch(refused); }}>
        {ROWS.map(([key, says, shows]) => <label key={key}>{says()} <input value={now(key)} placeholder={shows} aria-invalid={bad(key)} onInput={(e) => put(key, e.currentTarget.value)} />{minds(key)}</label>)}
        <details class="more-fields" open={rest.some((f) => f.name === wrong?.field) || undefined}><summary>All of the cell's record</summary><div class="stack">{rest.map((f) => <label key={f.name} title={f.help}>{f.name.replaceAll('_', ' ')} {f.choices
          ? <select value={now(f.name)} onChange={(e) => put(f.name, e.currentTarget.value)}><option value="">{f.default ?? ''}</option>{f.choices.map((c) => <option key={c} value={c}>{c}</option>)}</select>
          : <input value={now(f.name)} placeholder={f.default ? t('{value} (default)', { value: f.default }) : f.examples?.split(', ')[0] ?? ''} aria-invalid={bad(f.name)} onInput={(e) => put(f.name, e.currentTarget.value)} />}{minds(f.name)}</label>)}</div></details>
        <label>Time zone <input value={zone || known} placeholder="Europe/Berlin" aria-invalid={bad('zone')} onInput={(e) => { setZone(e.currentTarget.value); if (wrong?.field === 'zone') setWrong(null); }} />{minds('zone')}</label>
        <button type="submit" disabled={Object.keys(typed).length === 0 && (!zone || zone === known)}>Keep</button>
      </form>
      <p class="quiet">From the absorber's plate and its maker's papers. Pulls that were run with a wrong figure keep it until they are amended.</p>
      <CellWrong rows={ROWS} />
      <CellRight right={answer.right} />
    </section>
  );
}
