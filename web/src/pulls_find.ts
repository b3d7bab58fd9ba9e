/* Finding pulls by words. Commas put wishes together, and a pull has to meet all of them. A wish is a setting with its figure
 * ("spark 30"), or words that all stand somewhere in what is known of the pull: its number, day, purpose, what changed, whether and why
 * it was discarded, what tripped in it, any setting. */
import { counts, type Pull } from './api';
import { t } from './words';

/* Each is found by what the field promises with it: a setting, a word, part of a date. */
export const examples = () => t('spark 30, discarded');

export const termsOf = (text: string) => text.split(',').map((t) => t.trim().toLowerCase()).filter(Boolean);
const spelled = (name: string) => name.replaceAll('_', ' ').toLowerCase();

function everything(p: Pull): string {
  const settings = Object.entries(p.setup).map(([name, value]) => `${spelled(name)} ${value}`);
  return [p.id, t('pull {pull}', { pull: p.id }), p.kind, p.purpose, p.day, p.at.slice(11, 16), p.changed, counts(p) ? t('counts') : '', p.discarded == null ? '' : `${t('discarded')} ${p.discarded}`, p.tripped == null ? '' : `${t('tripped')} ${p.tripped}`, `${t('run')} ${p.run}`, ...settings, ...p.setup_changes.map((c) => c.text)].join(' \n ').toLowerCase();
}
/* "spark 30" is no spark of 28 in a pull that has a 30 elsewhere; nor is it 305, while it is 30 deg and 30.5 deg. */
function bySetting(p: Pull, term: string): boolean | null {
  for (const [name, value] of Object.entries(p.setup)) {
    const own = spelled(name);
    if (term.startsWith(own + ' ')) return new RegExp(`^${term.slice(own.length + 1).trim().replace(/[.*+?^${}()|[\]\\]/g, '\\$&')}(?!\\d)`).test(value.toLowerCase());
  }
  return null;
}
export function matcher(text: string): (p: Pull) => boolean {
  const terms = termsOf(text);
  return (p) => {
    const all = terms.length ? everything(p) : '';
    return terms.every((term) => bySetting(p, term) ?? term.split(/\s+/).every((word) => all.includes(word)));
  };
}
