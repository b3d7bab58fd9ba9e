/* Alarms that are heard: three levels told apart by rhythm as well as by pitch, each until it is gone or silenced. What is
 * silenced is that alarm of that moment, on this device; the next one sounds again. A browser lets a page sound only after
 * somebody has touched it: until then the page says that it cannot.
 *
 * Web Audio API (W3C). Pitches, rhythms and levels are our own choice: common practice, no source. */
import { computed, effect, signal } from '@preact/signals';
import { entries, type Level } from './alarm_list';
import { whenIdle } from './later';

interface Pattern { every_ms: number; tones: { hz: number; at_s: number; for_s: number }[]; gain: number; wave: OscillatorType }
const patterns: Record<Exclude<Level, 0>, Pattern> = {
  1: { every_ms: 10_000, tones: [{ hz: 440, at_s: 0, for_s: 0.35 }], gain: 0.25, wave: 'sine' },
  2: { every_ms: 2000, tones: [{ hz: 660, at_s: 0, for_s: 0.25 }, { hz: 660, at_s: 0.4, for_s: 0.25 }], gain: 0.5, wave: 'triangle' },
  3: { every_ms: 900, tones: [{ hz: 980, at_s: 0, for_s: 0.2 }, { hz: 740, at_s: 0.22, for_s: 0.2 }, { hz: 980, at_s: 0.44, for_s: 0.2 }, { hz: 740, at_s: 0.66, for_s: 0.2 }], gain: 0.9, wave: 'square' },
};

const PLACE = 'silenced';
function stored(): string[] { try { return JSON.parse(sessionStorage.getItem(PLACE) ?? '[]') as string[]; } catch { return []; } }
export const silenced = signal<string[]>(stored());
export function silence(key: string) {
  silenced.value = [...silenced.value.slice(-49), key];
  try { sessionStorage.setItem(PLACE, JSON.stringify(silenced.value)); } catch { /* until the page is loaded again */ }
}
export const isSilenced = (key: string) => silenced.value.includes(key);
/* A connection that comes back and is lost again sounds again. */
effect(() => {
  if (!entries.value.some((e) => e.key === 'connection') && silenced.peek().includes('connection')) silenced.value = silenced.peek().filter((k) => k !== 'connection');
});

export const level = computed<Level>(() => entries.value.reduce<Level>((most, e) => isSilenced(e.key) || e.level <= most ? most : e.level, 0));

/* 'waits': for somebody to touch the page; 'none': this browser has no sound. */
export const sound = signal<'on' | 'waits' | 'none'>(typeof AudioContext === 'undefined' ? 'none' : 'waits');
let context: AudioContext | null = null;
function look() { if (context) sound.value = context.state === 'running' ? 'on' : 'waits'; }
export function wake() {
  if (sound.value === 'none' || context?.state === 'running') return;
  try {
    context ??= new AudioContext();
    context.onstatechange = look;
    void context.resume().then(look, look);
    look();
  } catch { sound.value = 'none'; }
}
for (const kind of ['pointerdown', 'keydown', 'touchend'] as const) addEventListener(kind, wake, { capture: true, passive: true });
/* Allowed without a touch where somebody has used this page before. Opening the device's sound stops the page for as long as all else at the beginning
 * takes: it comes well after that, or at once with the first alarm. */
const AFTER_MS = 3000;
setTimeout(() => { whenIdle(wake); }, AFTER_MS);

function play(pattern: Pattern) {
  if (!context || context.state !== 'running') return;
  for (const tone of pattern.tones) {
    const from = context.currentTime + 0.02 + tone.at_s, to = from + tone.for_s;
    const source = context.createOscillator(), loud = context.createGain();
    source.type = pattern.wave;
    source.frequency.value = tone.hz;
    loud.gain.setValueAtTime(0, from);
    loud.gain.linearRampToValueAtTime(pattern.gain, from + 0.015);
    loud.gain.setValueAtTime(pattern.gain, to - 0.03);
    loud.gain.linearRampToValueAtTime(0, to);
    source.connect(loud).connect(context.destination);
    source.start(from);
    source.stop(to);
  }
}

let timer: ReturnType<typeof setInterval> | undefined;
effect(() => {
  const now = level.value, audible = sound.value === 'on';
  if (now > 0 && !context) wake();
  clearInterval(timer);
  if (now === 0 || !audible) return;
  play(patterns[now]);
  timer = setInterval(() => { play(patterns[now]); }, patterns[now].every_ms);
});
