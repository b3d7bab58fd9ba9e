/* Sliders for the figures that the engine's field table says one would turn, each with its value in any unit. */
import { useState } from 'preact/hooks';
import type { Slider, Turn } from './api';
import { fixed, shown, unitOf } from './format';
import { t } from './words';

export const keyOf = (s: { group: string; name: string }) => `${s.group}.${s.name}`;

function decimalsOf(s: Slider): number {
  const step = Math.abs(shown(s.kind, s.step) - shown(s.kind, 0));
  return Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
}
export function figureOf(s: Slider, inside: number): string {
  return `${fixed(shown(s.kind, inside), decimalsOf(s))}\u202f${unitOf(s.kind)}`.trim();
}

/* Typed in any unit; taken on Enter or when left, so that half a figure is never asked about. */
function Typed({ id, label, text, onTake }: { id: string; label: string; text: string; onTake: (text: string) => void }) {
  const [draft, setDraft] = useState<string | null>(null);
  const take = () => { if (draft != null && draft.trim() !== '' && draft !== text) onTake(draft.trim()); setDraft(null); };
  return <input id={id} class="turn-text" aria-label={label} value={draft ?? text} autocomplete="off" spellcheck={false}
    onInput={(e) => setDraft(e.currentTarget.value)} onBlur={take} onKeyDown={(e) => { if (e.key === 'Enter') { e.preventDefault(); take(); } else if (e.key === 'Escape') setDraft(null); }} />;
}

function One({ s, turn, problem, onTurn }: { s: Slider; turn: Turn | undefined; problem: string | null; onTurn: (turn: Turn | null, key: string) => void }) {
  const key = keyOf(s), value = typeof turn?.to === 'number' ? turn.to : s.value;
  const name = s.name.replaceAll('_', ' '), id = 'turn-' + key.replace('.', '-');
  const set = (to: number | string) => onTurn({ group: s.group, name: s.name, to }, key);
  return (
    <div class={'turn' + (turn ? ' turned' : '') + (problem ? ' wrong' : '')}>
      <label for={id} title={s.help}>{name}{s.items > 1 && <span class="quiet"> {t('mean of {n}, all changed alike', { n: s.items })}</span>}{s.with && <span class="quiet"> {t('with {other}', { other: s.with.replaceAll('_', ' ') })}</span>}</label>
      <input id={id} type="range" min={s.low} max={s.high} step={s.step} value={value} aria-valuetext={figureOf(s, value)} onInput={(e) => set(Number(e.currentTarget.value))} />
      <Typed id={id + '-text'} label={t('{field}, any unit', { field: name })} text={figureOf(s, value)} onTake={set} />
      {turn ? <button type="button" class="plain" title={t('back to {value}', { value: figureOf(s, s.base) })} aria-label={t('{field} back to {value}', { field: name, value: figureOf(s, s.base) })} onClick={() => onTurn(null, key)}>↺</button> : <span />}
      {problem && <p class="problem">{problem}</p>}
    </div>
  );
}

export function SliderGroups({ sliders, headings, turns, problem, field, onTurn }: { sliders: Slider[]; headings: Record<string, string>; turns: Record<string, Turn>; problem: string | null; field: string | null;
  onTurn: (turn: Turn | null, key: string) => void }) {
  const groups = [...new Set(sliders.map((s) => s.group))];
  const order = ['compression', 'cam', 'breathing', '', 'inlet', 'exhaust'];
  groups.sort((a, b) => order.indexOf(a) - order.indexOf(b));
  return <>{groups.map((group, i) => {
    const own = sliders.filter((s) => s.group === group), turned = own.filter((s) => turns[keyOf(s)]).length;
    return (
      <details key={group} class="turn-group" open={i < 3 || turned > 0}>
        <summary><h3>{group ? headings[group] ?? group : 'Fuel and mixture'}{turned > 0 && <span class="quiet"> {t('{n} changed', { n: turned })}</span>}</h3></summary>
        {own.map((s) => <One key={keyOf(s)} s={s} turn={turns[keyOf(s)]} problem={field === (s.group ? keyOf(s) : s.name) ? problem : null} onTurn={onTurn} />)}
      </details>);
  })}</>;
}
