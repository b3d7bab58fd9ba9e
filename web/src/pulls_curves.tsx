/* The plot that is the screen: the curves of both sides, the difference under it on the same speeds; what is asked of a figure opens below. */
import { signal } from '@preact/signals';
import type { ComponentChildren, RefObject } from 'preact';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { api, type Comparison, type PullCurve } from './api';
import { units } from './state';
import { columnLabel, rpm } from './format';
import { afterPaint, Later } from './later';
import { Plot } from './plot';
import { growth, type Over, type Seen } from './plot_line';
import { FEW, pad } from './plot_names';
import type { Asked } from './pulls_facts';
import { SIDE_BY_SIDE } from './plot_names';
import { Legend } from './pulls_legend';
import { differenceOf, labelOfWhat, lineOf, measuredDifference, paled, unitOfWhat, type Wish } from './pulls_lines';
import type { Side } from './pulls_list';
import { Range } from './pulls_range';
import { look, show, shownNow } from './pulls_seen';
import { t } from './words';

/* What is left of the window for the plots, under what stands above them and beside their own headings. A verdict that was opened, or a
 * phone, takes no more than its share. */
const OWN = 92, OWN_OF_TWO = 179, LEAST = 300, MOST_ABOVE = 0.42;
function useRoom(place: RefObject<HTMLDivElement | null>, two: boolean): number {
  const [room, setRoom] = useState(LEAST);
  const look = () => {
    const top = place.current ? place.current.getBoundingClientRect().top + scrollY : 0, above = Math.min(top, MOST_ABOVE * innerHeight);
    const next = Math.max((innerHeight - above - (two ? OWN_OF_TWO : OWN)) / growth(), LEAST);
    setRoom((was) => Math.abs(was - next) > 12 ? Math.round(next) : was);
  };
  useLayoutEffect(look);
  useEffect(() => {
    addEventListener('resize', look);
    return () => removeEventListener('resize', look);
  }, [two]);
  return room;
}

/* What lies under the plot is drawn after it where there is much of it: a table of forty rows costs as much as forty lines. The place keeps its height meanwhile, and
 * shows nothing of the pulls before. */
function Under({ of, now, children }: { of: unknown; now: boolean; children: ComponentChildren }) {
  const place = useRef<HTMLDivElement>(null), height = useRef(0), [drawn, setDrawn] = useState<unknown>(null), there = now || drawn === of;
  useEffect(() => { if (there) height.current = place.current?.offsetHeight ?? 0; else afterPaint(() => { setDrawn(of); }); }, [of, there]);
  return <div ref={place} style={{ minHeight: there ? '' : `${height.current}px` }}>{there && children}</div>;
}

const NEAR_LIMIT = 1.1;
interface ToolsProps { columns: string[]; what: string; also: string | null; samples: boolean; curve: boolean; hasSamples: boolean }
function Choices({ columns, what, also, samples, curve, hasSamples }: ToolsProps) {
  const all = [['torque', t('corrected torque')], ['power', t('corrected power')], ...columns.map((key) => [key, columnLabel(key)])] as [string, string][];
  const options = (but: string | null) => all.filter(([key]) => key !== but).map(([key, label]) => <option key={key} value={key}>{label}</option>);
  return (<>
    <label>{t('Show')} <select value={what} onChange={(e) => show({ show: e.currentTarget.value === 'torque' ? null : e.currentTarget.value, y: null, ...(also === e.currentTarget.value ? { also: 'none' } : {}) })}>{options(null)}</select></label>
    <label>{t('and')} <select value={also ?? 'none'} onChange={(e) => show({ also: e.currentTarget.value })}><option value="none">{t('nothing else')}</option>{options(what)}</select></label>
    {hasSamples && <label class="turn-on"><input type="checkbox" checked={curve} onChange={(e) => show({ curve: e.currentTarget.checked ? null : '0', ...(e.currentTarget.checked ? {} : { samples: '1' }) })} />{t('Smoothed')}</label>}
    {hasSamples && <label class="turn-on"><input type="checkbox" checked={samples} onChange={(e) => show({ samples: e.currentTarget.checked ? '1' : '0', ...(e.currentTarget.checked ? {} : { curve: null }) })} />{t('Samples')}</label>}
  </>);
}

/* Under the overlay: as judged where it was judged, else as measured. */
function useDifference(curves: PullCurve[], sideOf: (id: number) => Side, answer: Comparison | null, what: string) {
  return useMemo(() => {
    const main = what === 'torque' || what === 'power', judged = main ? differenceOf(answer) : [];
    if (judged.length) return { lines: judged, title: t('B − A, %; the band holds over the whole range at once'), unit: '%', why: '' };
    const a = curves.filter((c) => sideOf(c.id) === 'a'), b = curves.filter((c) => sideOf(c.id) === 'b');
    const lines = a.length === 1 && b.length === 1 ? measuredDifference(a[0]!, b[0]!, what) : [];
    return { lines, title: main ? t('B − A, %, as measured') : t('B − A: {what}', { what: labelOfWhat(what) + (unitOfWhat(what) ? `, ${unitOfWhat(what)}` : '') }), unit: main ? '%' : unitOfWhat(what),
      why: lines.length && main ? t('This band holds what measuring leaves open. How far one pull differs from the next by itself is not in it: that takes repeats.') : '' };
  }, [curves, answer, what, units.value]);
}

interface CurvesProps { a: number[]; b: number[]; curves: PullCurve[]; answer: Comparison | null; asked: Asked | null; onAsk: (asked: Asked | null) => void }
export function CurvesView({ a, b, curves, answer, asked, onAsk }: CurvesProps) {
  const place = useRef<HTMLDivElement>(null), top = useRef<HTMLDivElement>(null), [want, setWant] = useState<Seen | null>(null), now = shownNow(), system = units.value;
  const over = useMemo(() => signal<Over | null>(null), []), single = curves.length === 1, last = Math.max(...curves.map((c) => c.id)), what = now.show;
  const also = now.also === 'none' || now.also === what ? null : now.also ?? (single && what === 'torque' ? 'power' : null);
  const sideOf = (id: number): Side => b.includes(id) ? 'b' : 'a';
  const columns = useMemo(() => [...new Set(curves.flatMap((c) => Object.keys(c.curve.columns)))], [curves]);
  const hasSamples = (what === 'torque' || what === 'power') && curves.length <= FEW, samples = hasSamples && (now.samples ?? single), curve = now.curve || !samples;
  const lines = useMemo(() => {
    const wish: Wish = { what, also, samples, curve };
    return paled(curves.flatMap((c, i) => now.hidden.includes(c.id) ? [] : lineOf(c, sideOf(c.id), wish, i, single)));
  }, [curves, now.key, system]);
  const difference = useDifference(curves, sideOf, answer, what);
  const facts = useMemo(() => <Later part={(m) => m.Facts} given={{ curves, sideOf, onAsk: (next: Asked) => { onAsk(next); setTimeout(() => place.current?.scrollIntoView({ block: 'nearest' }), 60); } }} />, [curves]); /* what did not change is not drawn anew */
  /* Today's limit of each, once where they share it. One just beyond the last point is in sight; one far beyond says nothing of these curves. */
  const [reach, marks] = useMemo((): [[number, number], { x: number; label: string }[]] => {
    const all = curves.flatMap((c) => c.curve.speed_rpm), low = Math.min(...all), high = Math.max(...all);
    const limits = [...new Set(curves.flatMap((c) => now.hidden.includes(c.id) || c.limit_rpm == null ? [] : [c.limit_rpm]))].filter((v) => v > low && v <= NEAR_LIMIT * high).sort((p, q) => p - q);
    return [[low, Math.max(high, ...limits)], limits.map((v) => ({ x: v, label: t('limit {speed} rpm', { speed: rpm(v) }) }))];
  }, [curves, now.key]);
  const band = answer ? { low_rpm: answer.band_low_rpm, high_rpm: answer.band_high_rpm } : curves[curves.length - 1]?.curve.band;
  const pick = (x: number, id?: number) => onAsk({ pull: id ?? (asked?.pull && curves.some((c) => c.id === asked.pull) ? asked.pull : curves[curves.length - 1]!.id), speed: x });
  const unit = unitOfWhat(what), shade = band ? { shade: { low: band.low_rpm, high: band.high_rpm } } : {};
  const both = difference.lines.length > 0, room = useRoom(top, both), height = Math.round(both ? Math.max(room * 0.64, 220) : room);
  const drawn = lines.filter((line) => !line.faint), many = drawn.length > FEW;
  const gutter = lines.some((line) => line.axis === 'right') ? 72 : many ? pad(drawn.map((line) => line.name ?? ''), height) : 58; /* both plots end at the same place */
  const head = <span class="plot-tools"><Choices columns={columns} what={what} also={also} samples={samples} curve={curve} hasSamples={hasSamples} /><Range seen={now.seen} unit={unit} onSeen={(seen) => { look(seen, now.pinned); setWant(seen); }} /></span>;
  return (<>
    <Legend curves={curves} sideOf={sideOf} hidden={now.hidden} onHide={(hidden) => show({ hide: hidden.join(',') || null })} />
    <div ref={top} />
    <Plot head={head} title={labelOfWhat(what) + (unit ? `, ${unit}` : '') + (also ? '; ' + labelOfWhat(also) + (unitOfWhat(also) ? `, ${unitOfWhat(also)}` : '') : '')} lines={lines} height={height} xLabel="rpm" compares={!single} reach={reach} marks={marks}
      left={unit} right={also ? unitOfWhat(also) : ''} sync="pulls" take={`${what}-${[...a, ...b].join('-')}`} seen={now.seen} pinned={now.pinned} onSeen={look} want={want} over={over} {...shade} onPick={pick} />
    {both && <Plot title={difference.title} lines={difference.lines} height={Math.round(Math.max(room * 0.36, 130))} xLabel="rpm" left={difference.unit} sync="pulls" zero reach={reach} gutter={gutter} seen={{ x: now.seen.x, y: null }} take={`difference-${[...a, ...b].join('-')}`} />}
    {both && difference.why && <p class="quiet">{difference.why}</p>}
    <p class="tools"><a class="button" href={api.reportAddress({ pulls: [...a, ...b].join(','), units: system })} download>Report of these (PDF)</a></p>
    {answer && !answer.curve && !both && <p class="quiet">No band for the difference: see the cautions above.</p>}
    <p class="quiet">{many ? t('Many lines: the older ones of a side are paler; the one pointed at, or chosen with up and down, stands out and has its band.') + ' ' : ''}{t('Bands: 95 %, as in a comparison, where common errors cancel. Shaded: the band of use. Click a curve, or press Enter on it, to walk a figure back. Wheel, two fingers or a box: closer; Shift and drag: elsewhere; double click or double tap: all. ? shows the keys.')}</p>
    <Later part={(m) => m.CurveNotes} given={{ curves, lines, over, asked }} />
    {curves.length > 1 && curves.length <= SIDE_BY_SIDE && asked && <p class="tools">{t('Figure of')} {curves.map((c) => <button key={c.id} type="button" aria-pressed={c.id === asked.pull} onClick={() => onAsk({ ...asked, pull: c.id })}>{t('pull {pull}', { pull: c.id })}</button>)}</p>}
    {asked && <div ref={place} tabIndex={-1}>{'speed' in asked ? <Later part={(m) => m.Explain} given={{ pull: asked.pull, speed: asked.speed, onClose: () => onAsk(null) }} /> : <Later part={(m) => m.FactOrigin} given={{ pull: asked.pull, of: asked.of, onClose: () => onAsk(null) }} />}</div>}
    <Under of={curves} now={!many}>{facts}</Under>
    {last > 0 && <Later part={(m) => m.TripsOfPull} given={{ pull: last }} />}
    {last > 0 && <Later part={(m) => m.Photos} given={{ of: `pull:${last}`, heading: t('Photos and files of pull {pull}', { pull: last }) }} />}
  </>);
}
