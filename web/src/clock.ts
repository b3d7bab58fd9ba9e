/* The time by the server's clock. What happens in a shop is dated by one clock, and a tablet's may be days off: the server
 * says its time with everything live, and what this device writes is dated by that. Without it, by the device's own. */
import { computed, signal } from '@preact/signals';
import { t, tn, dayOf } from './words';

const AGREE_MS = 60_000, STEP_MS = 2000;

/* Server less device, in ms; null: not heard yet. What takes longest to arrive says the least of it. */
const offset = signal<number | null>(null);
export function heardTime(at: string) {
  const next = Date.parse(at) - Date.now(), before = offset.value;
  if (Number.isNaN(next)) return;
  if (before == null || next > before || before - next > STEP_MS) offset.value = next;
}
export const serverNow = () => Date.now() + (offset.value ?? 0);
/* For what is dated here and goes into the book. */
export const stamp = () => new Date(serverNow()).toISOString();

/* Moves once a second, for all that says how long ago something was. */
export const second = signal(Date.now());
setInterval(() => { second.value = Date.now(); }, 1000);

export function lasting(seconds: number): string {
  const s = Math.max(0, Math.round(seconds));
  if (s < 100) return `${s}\u202fs`;
  if (s < 5400) return `${Math.round(s / 60)}\u202fmin`;
  return s < 172_800 ? `${Math.round(s / 3600)}\u202fh` : tn('{n} day', '{n} days', Math.round(s / 86_400));
}
/* "12:03:22 UTC, 12 s ago"; the day too when it is another one. Of a time that is still to come by the server's clock, the clock alone. */
export function clockAndAgo(at: string): string {
  void second.value;
  const away = (serverNow() - Date.parse(at)) / 1000, day = at.slice(0, 10) === stamp().slice(0, 10) ? '' : dayOf(at) + ' ';
  const clock = `${day}${at.slice(11, 19)} UTC`;
  return away > -2 ? t('{clock}, {time} ago', { clock, time: lasting(away) }) : clock;
}

/* In words, when the two clocks disagree by more than anybody would put down to a slow network. */
export const disagreement = computed(() => {
  const off = offset.value ?? 0;
  if (Math.abs(off) < AGREE_MS) return null;
  const time = lasting(Math.abs(off) / 1000);
  return off > 0 ? t("This device's clock is {time} behind the server's. What is written here is dated by the server's clock. Set the one that is wrong.", { time })
    : t("This device's clock is {time} ahead of the server's. What is written here is dated by the server's clock. Set the one that is wrong.", { time });
});
