/* What a prediction can be looked at by, one plot of it: predicted beside the base, measured pulls underneath. */
import { useMemo } from 'preact/hooks';
import type { PredictedCurve, PullCurve } from './api';
import { shown, unitOf } from './format';
import { Plot, type Line } from './plot';
import { units } from './state';
import { t, inWords } from './words';

export type What = 'torque' | 'power' | 've' | 'octane' | 'fuel' | 'bsfc' | 'spark' | 'residual' | 'exhaust';
const views: { key: What; label: string; kind: string; decimals: number; of: (c: PredictedCurve) => (number | null)[]; column?: string }[] = [
  { key: 'torque', label: 'torque', kind: 'torque', decimals: 1, of: (c) => c.torque_n_m },
  { key: 'power', label: 'power', kind: 'power', decimals: 1, of: (c) => c.power_w },
  { key: 've', label: 'volumetric efficiency', kind: 'ratio', decimals: 1, of: (c) => c.volumetric_efficiency },
  { key: 'octane', label: 'knock margin, octane numbers to spare', kind: 'number', decimals: 1, of: (c) => c.octane_needed.map((o) => o == null || c.octane == null ? null : c.octane - o) },
  { key: 'fuel', label: 'fuel flow', kind: 'mass flow', decimals: 1, of: (c) => c.fuel_kg_s, column: 'fuel_flow_kg_s' },
  { key: 'bsfc', label: 'specific fuel', kind: 'specific fuel', decimals: 0, of: (c) => c.bsfc_kg_j, column: 'bsfc_kg_j' },
  { key: 'spark', label: 'spark before top dead centre', kind: 'angle', decimals: 1, of: (c) => c.spark_deg },
  { key: 'residual', label: 'burned gas left in the cylinder', kind: 'ratio', decimals: 1, of: (c) => c.residual_fraction },
  { key: 'exhaust', label: 'exhaust gas temperature', kind: 'temperature', decimals: 0, of: (c) => c.exhaust_k },
];

function linesOf(what: What, now: PredictedCurve, base: PredictedCurve | null, measured: PullCurve[]): Line[] {
  const view = views.find((v) => v.key === what)!;
  const show = (v: number | null) => v == null || !Number.isFinite(v) ? null : view.kind === 'number' ? v : shown(view.kind, v);
  const lines: Line[] = [];
  for (const p of measured) {
    const y = what === 'torque' ? p.curve.torque_n_m : what === 'power' ? p.curve.power_w : view.column ? p.curve.columns[view.column] : undefined;
    if (!y) continue;
    const scale = Math.abs(shown('torque', 1) - shown('torque', 0));
    lines.push({ label: t('measured, pull {pull}', { pull: p.id }), name: t('pull {pull}', { pull: p.id }), x: p.curve.speed_rpm, y: y.map(show), ink: 'blue', decimals: view.decimals,
      ...(what === 'torque' ? { half: p.curve.torque_expanded_n_m.map((h) => h == null ? null : h * scale) } : {}) });
  }
  if (base) lines.push({ label: 'the base, predicted', name: t('base'), x: base.speed_rpm, y: view.of(base).map(show), ink: 'quiet', dash: [2, 4], decimals: view.decimals });
  const u = now.torque_standard_uncertainty_n_m;
  const half = u && (what === 'torque' || what === 'power') ? u.map((s, i) => {
    const inside = what === 'torque' ? 2 * s : 2 * s * now.speed_rpm[i]! * Math.PI / 30;
    return Math.abs(shown(view.kind, inside) - shown(view.kind, 0));
  }) : null;
  lines.push({ label: 'predicted', name: t('predicted'), x: now.speed_rpm, y: view.of(now).map(show), ink: 'violet', dash: [9, 4], decimals: view.decimals, ...(half ? { half } : {}) });
  return lines;
}

export function Shown({ what, onWhat, now, base, measured, height, label }: { what: What; onWhat: (w: What) => void; now: PredictedCurve; base: PredictedCurve | null; measured: PullCurve[]; height: number; label: string }) {
  const view = views.find((v) => v.key === what)!;
  const lines = useMemo(() => linesOf(what, now, base, measured), [what, now, base, measured, units.value]);
  const unit = view.kind === 'number' ? '' : unitOf(view.kind);
  return (<>
    <p class="tools"><label>{label} <select value={what} onChange={(e) => onWhat(e.currentTarget.value as What)}>{views.map((v) => <option key={v.key} value={v.key}>{v.label}</option>)}</select></label></p>
    <Plot title={t('predicted: {what}', { what: inWords(view.label) + (unit ? `, ${unit}` : '') })} lines={lines} height={height} xLabel="rpm" left={unit} sync="predict" zero={what === 'octane'} gutter={96} />
  </>);
}
