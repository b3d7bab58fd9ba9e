import { t } from './words';
/* What stands where an answer will: that it is being asked for, or why there is none and where to go instead. */
interface Props { says: string; why: string | null; to?: string; toWords?: string }
export function Waiting({ says, why, to = '#/day', toWords = t('To the test day') }: Props) {
  if (!why) return <p class="quiet lone">{says}</p>;
  return <section class="first refused-screen"><h1>Nothing to show here</h1><p class="lead" role="status">{why[0]?.toUpperCase()}{why.slice(1)}.</p><p><a class="button" href={to}>{toWords}</a></p></section>;
}
/* The same for a part of a screen: it says why, and the screen around it stays. */
export function WaitingHere({ says, why }: { says: string; why: string | null }) {
  return why ? <p class="said grave" role="status">{why[0]?.toUpperCase()}{why.slice(1)}.</p> : <p class="quiet">{says}</p>;
}
