/* The newest pulls as the list of Pulls shows them, drawn before the page's own script is there: to be read a moment earlier, and pressed when the
 * list itself stands in the same place. In English, whose words need no catalogue; where the list is open, and in its usual order. */
import type { Book, Pull, Pulls } from './api_types';

const WIDE = '(min-width: 62rem)', ROW_PX = 44; /* as in screen_pulls.tsx and pulls_window.ts */
const SCREENS = ['Test day', 'Live', 'Pulls', 'Engine', 'Predict', 'Search', 'Build', 'Hand over', 'Shop'], PULLS = 2; /* as in app.tsx */
const ASKS_OTHERWISE = ['find', 'state', 'of', 'from', 'to', 'order', 'engine', 'open', 'view'];

export function suits(query: URLSearchParams): boolean {
  if (!matchMedia(WIDE).matches || ASKS_OTHERWISE.some((name) => query.has(name))) return false;
  try { return localStorage.getItem('pulls-list') !== 'closed'; } catch { return true; }
}

function element(name: string, of = '', ...within: (Node | string)[]): HTMLElement {
  const made = document.createElement(name);
  if (of) made.className = of;
  made.append(...within);
  return made;
}
function button(of: string, text: string, pressed?: boolean): HTMLElement {
  const made = element('button', of, text) as HTMLButtonElement;
  made.disabled = true;
  if (pressed != null) made.ariaPressed = String(pressed);
  return made;
}
const sidesOf = (texts: [string, string], pressed: boolean[]) => texts.map((text, i) => element('td', '', button('side ' + 'ab'[i]!, text, pressed[i])));

/** `of`: how many there are in all. What stands in the page until its own elements do. */
export function listOf({ pulls, of }: Pulls, book: Book, units: 'si' | 'us', chosen: [number[], number[]]): HTMLElement[] {
  const torque = book.kinds.find((k) => k.name === 'torque')?.[units] ?? { unit: '', scale: 1, offset: 0 };
  const whole = new Intl.NumberFormat('en-US', { maximumFractionDigits: 0 }), tenths = new Intl.NumberFormat('en-US', { minimumFractionDigits: 1, maximumFractionDigits: 1 });
  const row = (p: Pull) => {
    const made = element('tr', (p.discarded ? 'discarded ' : '') + (chosen[0].includes(p.id) ? 'in-a' : chosen[1].includes(p.id) ? 'in-b' : ''), ...sidesOf(['A', 'B'], chosen.map((ids) => ids.includes(p.id))),
      element('td', 'num', button('figure-link', String(p.id))), element('td', 'num', p.top_speed_rpm == null ? '–' : whole.format(Math.round(p.top_speed_rpm / 10) * 10)),
      element('td', 'num', p.band_mean_torque_n_m == null ? '' : tenths.format(torque.scale * p.band_mean_torque_n_m + torque.offset)),
      element('td', '', element('div', 'row-says', p.discarded ? `discarded: ${p.discarded}` : p.changed ?? '', element('span', 'quiet', p.discarded || p.setup_changes.length === 0 ? '' : ' ' + p.setup_changes.map((c) => c.text).join('; ')))));
    made.dataset['row'] = String(p.id);
    return made;
  };
  const body = element('tbody'), most = Math.ceil(innerHeight / ROW_PX), last = pulls.length - 1;
  for (let i = last; i >= 0 && last - i < most; i--) {
    const p = pulls[i]!;
    if (i === last || pulls[i + 1]!.day !== p.day) {
      const day = element('th', '', p.day) as HTMLTableCellElement;
      day.colSpan = 4;
      body.append(element('tr', 'day-row', ...sidesOf(['all', 'all'], []), day));
    }
    body.append(row(p));
  }
  const search = element('input') as HTMLInputElement;
  search.type = 'search';
  search.disabled = true;
  const tools = element('div', 'tools', search, element('details', 'filter', element('summary', '', 'Narrow and order')), ...(chosen[0].length + chosen[1].length > 1 ? [button('', 'Only the last')] : []), element('span', 'button', 'Add files'));
  const rest = of > pulls.length ? [element('p', 'quiet found', `The newest ${whole.format(pulls.length)} of ${whole.format(of)}; the others are being read…`)] : [];
  const heads = ['Before', 'After', 'Pull', 'To, rpm', `Mean, ${torque.unit}`, 'What changed'].map((text, i) => element('th', i > 1 && i < 5 ? 'num' : '', text));
  const section = element('section', 'list-side', tools, ...rest, element('div', 'scroll tall', element('table', 'list', element('thead', '', element('tr', '', ...heads)), body)));
  section.ariaLabel = 'Pulls';
  section.ariaBusy = 'true';
  const bar = element('header', 'bar', element('span', 'mark', 'Enginewright'), element('nav', '', ...SCREENS.map((name) => element('a', '', name))));
  bar.querySelectorAll('a')[PULLS]!.ariaCurrent = 'page';
  return [bar, element('main', '', element('div', 'pulls', element('div', 'list-place', section)))];
}
