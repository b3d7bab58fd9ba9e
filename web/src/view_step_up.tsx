/* May the rpm limit go up? Each check with what was found, and how much of its allowance is left. */
import { api } from './api';
import { useAsked } from './answered';
import { changes } from './state';
import { WaitingHere } from './waiting';
import { dash, percent, rpm, words } from './format';
import { t } from './words';

function Left({ share }: { share: number | null }) {
  if (share == null) return <span class="quiet">{dash}</span>;
  const used = Math.min(Math.max(1 - share, 0), 1);
  return (
    <span class="allowance">
      <svg class={'band' + (share < 0 ? ' out' : '')} viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true">
        <rect class="track" width="100" height="8" /><rect class="needle" width={Math.max(100 * used, 1)} height="8" />
      </svg>
      <span>{share < 0 ? t('over by {share}', { share: percent(-share, 0) }) : t('{share} left', { share: percent(share, 0) })}</span>
    </span>
  );
}

export function StepUpView({ pull }: { pull: number }) {
  const { answer, why } = useAsked(`step-up-${pull}`, () => api.stepUp(pull), [changes.value]), step = why ? null : answer; /* an earlier answer is no answer of now */
  if (!step) return <WaitingHere says={t('Looking at pull {pull}…', { pull })} why={why} />;
  const look = step.answer === 'stop and look' ? 'loss' : step.answer === 'hold' ? 'undecided' : 'gain';
  return (
    <section aria-label="Next limit">
      <section class={'verdict ' + look} aria-label="Answer">
        <p class="verdict-line"><span>{words(step.says.text)}</span></p>
        <dl class="asked">
          <div><dt>{t('Limit of pull {pull}', { pull })}</dt><dd>{rpm(step.limit_rpm, 50)}&thinsp;rpm</dd></div>
          <div><dt>Next</dt><dd>{step.next_rpm == null ? t('no further') : <>{rpm(step.next_rpm, 50)}&thinsp;rpm</>}</dd></div>
          <div><dt>Ceiling</dt><dd>{step.ceiling_rpm == null ? t('not known') : <>{rpm(step.ceiling_rpm, 50)}&thinsp;rpm{step.ceiling_from ? ': ' + step.ceiling_from.text : ''}</>}</dd></div>
        </dl>
        <p class="quiet">A proposal, never an order: whoever is at the throttle decides, and the makers' limits come first.</p>
      </section>
      <div tabIndex={0} class="scroll"><table class="list">
        <thead><tr><th scope="col">Looked at</th><th scope="col">Found</th><th scope="col">Answer</th><th scope="col">Allowance used</th></tr></thead>
        <tbody>{step.checks.map((c) => (
          <tr key={c.what}><th scope="row">{c.what}</th><td>{words(c.found.text)}</td><td class={c.answer === 'no objection' ? undefined : 'grave-word'}>{c.answer}</td><td><Left share={c.allowance_left} /></td></tr>))}</tbody>
      </table></div>
    </section>
  );
}
