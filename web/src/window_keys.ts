/* What the window shows the customer: as the shop set it, else speed, torque and power. */
import { book } from './state';

export const usual = ['speed', 'torque', 'power'];
/** Keys of what the window shows. */
export function windowKeys(): string[] {
  const kept = book.value?.settings['window'];
  return kept ? kept.split(',') : usual;
}
