/* The key to the lines: each with its dash and its mark; touched, its line goes, and comes again. */
import { useState } from 'preact/hooks';
import type { PullCurve } from './api';
import { DASHES, outline, TOLD_APART } from './plot_marks';
import { FEW } from './plot_names';
import type { Side } from './pulls_list';
import { words } from './format';
import { t } from './words';

function Swatch({ place, many, side }: { place: number; many: boolean; side: Side }) {
  const at = place % TOLD_APART, { points, full } = outline(at), dash = many ? side === 'b' ? [8, 5] : [] : DASHES[at]!;
  return (
    <svg class={'swatch ' + side} width="44" height="14" viewBox="0 0 44 14" aria-hidden="true">
      <path d="M1 7H43" stroke="currentColor" stroke-width="2" {...(dash.length ? { 'stroke-dasharray': dash.join(' ') } : {})} />
      {!many && <path d={'M' + points.map(([x, y]) => `${22 + 4 * x} ${7 + 4 * y}`).join('L') + 'Z'} stroke="currentColor" stroke-width="1.4" class={full ? 'full' : 'hollow'} />}
    </svg>
  );
}

interface LegendProps { curves: PullCurve[]; sideOf: (id: number) => Side; hidden: number[]; onHide: (hidden: number[]) => void }
/* Of more lines than can be told apart the key is behind a word: it costs as much as the plot. */
export function Legend(props: LegendProps) {
  const [open, setOpen] = useState(false), n = props.curves.length;
  if (n < 2) return null;
  if (n <= FEW) return <Lines {...props} />;
  return <details class="legend-many" open={open} onToggle={(e) => setOpen(e.currentTarget.open)}><summary>{props.hidden.length ? t('{n} lines, {hidden} of them hidden', { n, hidden: props.hidden.length }) : t('{n} lines', { n })}</summary>{open && <Lines {...props} />}</details>;
}

function Lines({ curves, sideOf, hidden, onHide }: LegendProps) {
  const many = curves.length > FEW, turn = (id: number) => onHide(hidden.includes(id) ? hidden.filter((h) => h !== id) : [...hidden, id]);
  const says = (p: PullCurve) => p.changed || words((p.setup_changes ?? []).map((c) => c.text).join('; '));
  return (
    <div class={'legend' + (many ? ' many' : '')} role="group" aria-label={t('Lines that are shown')}>
      {curves.map((p, i) => {
        const side = sideOf(p.id), on = !hidden.includes(p.id);
        return (
          <button key={p.id} type="button" class={'legend-line ' + side + (on ? '' : ' off')} aria-pressed={on} title={says(p)} onClick={() => turn(p.id)}>
            <Swatch place={i} many={many} side={side} /><b translate={false}>{side.toUpperCase()} {p.id}</b>{!many && <span class="legend-says" translate={false}>{says(p)}</span>}
          </button>
        );
      })}
      {hidden.length > 0 && <button type="button" class="plain" onClick={() => onHide([])}>Show every line</button>}
    </div>
  );
}
