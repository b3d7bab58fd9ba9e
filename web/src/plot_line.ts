/* What a plot is asked to show, and what its drawn lines are known by. */
import type { ComponentChild } from 'preact';
import type uPlot from 'uplot';
import { signal, type Signal } from '@preact/signals';

export type Ink = 'blue' | 'ochre' | 'green' | 'violet' | 'ink' | 'quiet';

export interface Line {
  label: string;
  id?: number; /* what onPick is told: the pull */
  pale?: number; /* 0 to 1: how far back it stands among many */
  name?: string; /* short, at the line's end */
  atPeak?: boolean; /* the name stands at the highest point */
  x: number[];
  y: (number | null)[];
  half?: (number | null)[]; /* half-width of the band around it */
  ink: Ink;
  dash?: number[];
  marker?: number; /* which of the marks along the line it has: see plot_marks.ts */
  thin?: boolean; /* a second quantity of a line drawn already */
  faint?: boolean; /* raw samples: dots behind */
  dots?: boolean; /* measured points: a dot each, its half-width as an upright bar, its name beside it */
  names?: string[]; /* of the dots */
  decimals?: number;
  axis?: 'left' | 'right';
}

/* What part of the plot is seen; null: all of it. */
export type Span = [number, number] | null;
export interface Seen { x: Span; y: Span }

/* Notes on the curves: drawn, told where the cursor stands, and as marks of a drawing. */
export interface Over { draw: (u: uPlot) => void; says: (x: number) => string; marks: { x: number; y: number; axis: 'left' | 'right'; label: string }[] }

export interface PlotProps {
  title: string;
  lines: Line[];
  height: number;
  xLabel: string;
  left: string;
  right?: string;
  sync?: string;
  compares?: boolean;  /* what is told of a line is told against the first, too */
  reach?: [number, number]; /* the x axis holds at least this */
  head?: ComponentChild; /* stands where the title would; the title is then for pictures and for those who cannot see */
  take?: string;       /* may be taken along as a picture or as figures, under this name */
  gutter?: number;     /* room for the names at the lines' ends; 58 */
  zero?: boolean;      /* draw a line at zero */
  floor?: boolean;     /* the axis begins at zero */
  shade?: { low: number; high: number };
  marks?: { x: number; label: string }[]; /* upright lines with a word at the top */
  xDecimals?: number;
  onPick?: (x: number, id?: number) => void;
  onMove?: (x: number) => void;          /* the cursor went there by hand */
  follow?: Signal<number | null>;        /* the cursor goes where this says */
  seen?: Seen;                           /* what is seen of it at first */
  pinned?: number | null;                /* where a pin stands at first */
  want?: Seen | null;                    /* asked for by somebody who types it */
  over?: Signal<Over | null>;            /* drawn over the lines, by a part that is loaded later */
  onSeen?: (seen: Seen, pinned: number | null) => void; /* somebody looked closer, farther or elsewhere */
}

/* A line that can be chosen and read, and where its values stand in the plot's data. */
export interface Drawn { line: Line; index: number }
export const scaleOf = (line: { axis?: 'left' | 'right' }) => line.axis ?? 'left';
export const nameOf = (line: { name?: string; label: string }) => line.name ?? line.label;

/* Counts changes between dark and light, after which a plot is drawn anew. */
export const theme = signal(0);
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { theme.value++; });
/* Paper is light, whatever the screen is: what is drawn on a canvas is drawn again for it, and again for the screen. */
function onPaper(is: boolean) {
  if (document.documentElement.classList.contains('paper') === is) return;
  document.documentElement.classList.toggle('paper', is);
  theme.value++;
}
addEventListener('beforeprint', () => { onPaper(true); });
addEventListener('afterprint', () => { onPaper(false); });
matchMedia('print').addEventListener('change', (e) => { onPaper(e.matches); });
export function ink(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue('--' + name).trim();
}

/* Letters and what is measured by them grow with the page's own: 1 where it has 16 px. */
export const growth = () => parseFloat(getComputedStyle(document.documentElement).fontSize) / 16 || 1;
/* What a dot of the page is on the canvas. */
export const dots = () => devicePixelRatio * growth();
export const LETTER = 12;
