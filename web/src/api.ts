/* The one door to the server. Every figure that comes through it is in SI (but _rpm and _deg). */

import type { Standing } from './alarm_list';
import { t } from './words';

/* A finding: its identifier and arguments are the fact, `text` the sentence in this reader's language. */
export interface Message { id: string; severity: 'note' | 'caution' | 'danger'; about?: string; arguments?: Record<string, unknown>; text: string }
export interface KindUnit { unit: string; scale: number; offset: number }
export interface Kind { name: string; suffix: string; si: KindUnit; us: KindUnit }
export interface Book {
  program: string; book: string; identity: string; empty: boolean; may_write: boolean; pulls: number; has_engine: boolean; engine: string | null; engine_id: number;
  lan: boolean; clear_text: boolean; practice: boolean; calibration_overdue: string | null;
  settings: Record<string, string | null>; kinds: Kind[]; channels: Record<string, string>;
  standards: { key: string; title: string; reference: string }[];
  label_pairs: { british: string; american: string }[]; label_rule: { not_after: string; not_before: string };
}
export interface Pull {
  id: number; recording_id: number; engine_id: number; at: string; day: string; kind: string; purpose: string;
  run: number; mounting: number; top_speed_rpm: number | null; band_mean_torque_n_m: number | null;
  changed: string | null; discarded: string | null; tripped: string | null; setup: Record<string, string>; setup_changes: Message[];
}
/* An alarm that tripped; `open`: it asks for a look, and nobody wrote what was found. */
export interface Trip { trip: number; at: string; action: string; name: string; pull: number; open: boolean; found: string | null; found_by: string | null; found_at: string | null; text: string }
export interface Found { at: string; who: string; text: string; taken_back: string | null }
/** Does it count where nobody chose it? As ew_pull_counts of the program. */
export const counts = (p: Pull) => p.purpose === 'pull' && !p.discarded && !p.tripped;
export interface Conditions {
  pressure_pa: number | null; pressure_from: string; temperature_k: number | null; temperature_from: string;
  vapour_pressure_pa: number | null; humidity_from: string; oil_start_k: number | null; oil_end_k: number | null;
  coolant_start_k: number | null; coolant_end_k: number | null; inlet_start_k: number | null;
  inlet_end_k: number | null; rest_s: number | null; acceleration_rpm_s: number | null; full_throttle: boolean;
}
export type Values = (number | null)[];
export interface Curve {
  speed_rpm: number[]; torque_n_m: Values; torque_se_n_m: Values; power_w: Values; observed_torque_n_m: Values;
  torque_expanded_n_m: Values; torque_comparative_n_m: Values; columns: Record<string, Values>;
  factor: number; in_range: boolean; out_of_range_because: Message | null; conditions: Conditions;
  band: { low_rpm: number; high_rpm: number; mean_torque_n_m: number };
  cleaned: Record<string, number>; knock_count: number | null; method: Record<string, unknown>; warnings: Message[];
}
export interface PullCurve extends Pull {
  curve: Curve; raw?: { speed_rpm: number[]; torque_n_m: Values }; standard: string;
  peak: { power_w: number; power_speed_rpm: number; torque_n_m: number; torque_speed_rpm: number; power_at_end: boolean; torque_at_end: boolean };
}
export interface Comparison {
  verdict: 'gain' | 'loss' | 'same' | 'undecided' | 'not comparable'; says: string;
  relative_difference: number | null; relative_interval: Values; confidence: number; margin: number;
  pulls_needed: number; next_order: string | null; band_low_rpm: number; band_high_rpm: number;
  mean_a_n_m: number; mean_b_n_m: number; pulls_a: number; pulls_b: number; level: string;
  relative_sd: number | null; degrees_of_freedom: number | null; smallest_margin: number | null;
  unsafe: boolean; safe: string; valid: string; better: string; worth_it: string; warnings: Message[];
  curve?: { speed_rpm: number[]; relative_difference: number[]; relative_half_width: number[] };
}
export interface Origin {
  pull: number; recording: string; sha256: string; curve_sha256?: string; speed_rpm: number; torque_n_m: number;
  power_w: number; shown: string; samples: number; samples_touched: number; first_s: number; last_s: number;
  low_rpm: number; high_rpm: number; half_width_rpm: number; measured_torque_n_m: number;
  acceleration_rpm_s: number; inertia_torque_n_m: number; engine_inertia_torque_n_m: number;
  engine_inertia_added: boolean; factor: number; in_range: boolean; standard: string; reference: string;
  pressure_pa: number | null; pressure_from: string; temperature_k: number | null; temperature_from: string;
  vapour_pressure_pa: number | null; humidity_from: string;
  uncertainty: { from: string; standard_n_m: number; cancels_in_comparison: boolean }[];
  expanded_n_m: number; expanded_comparative_n_m: number;
}
export interface Origins {
  pull: number; recording: string; sha256: string; added_at: string; curve_sha256?: string; method: Record<string, string>;
  band: { low_rpm: number; high_rpm: number; low_share: number; high_share: number; top_rpm: number; points: number; mean_torque_n_m: number; relative_se: number | null };
  factor: { factor: number; in_range: boolean; why_not: Message | null; standard: string; reference: string; dry_pressure_pa: number | null; pressure_pa: number | null;
    pressure_from: string; temperature_k: number | null; temperature_from: string; vapour_pressure_pa: number | null; humidity_from: string };
  channels: { key: string; label: string; heading: string; unit: string | null; why: Message; lag_s: number; samples: number; spikes: number; dropouts: number; flat: number; saturated: number; lost: number }[];
  setup: { name: string; shown: string; since_pull: number; since_at: string; changed: string | null; recording?: string; added_at?: string }[];
}
export interface Sweep {
  best: number; best_interval: [number, number]; bracketed: boolean; chosen: number | null; chosen_relative_loss: number | null;
  held_by_reserve: boolean; next: number | null; next_gain_probability: number; ended: boolean; reason: string;
  relative_sd: number; degrees_of_freedom: number; warnings: Message[];
  fit: { setting: number[]; relative_loss: number[]; relative_loss_se: number[] };
  pulls: { setting: number[]; relative_loss: number[]; relative_half_width: number };
}
export interface TriedCurve { id: number; speed_rpm: number[]; torque_n_m: Values; power_w: Values; factor: number; band_low_rpm: number; band_high_rpm: number;
  mean_torque_n_m: number; peak_power_w: number; peak_power_rpm: number; peak_torque_n_m: number; peak_torque_rpm: number; power_at_end: boolean; torque_at_end: boolean }
export interface Tried { a: TriedCurve[]; b: TriedCurve[]; says?: string }
export interface Method { version: string; typed: Record<string, string>; groups: FieldGroup[] }
export interface ChannelSeries { key: string; time_s: number[]; value: Values; flagged: { time_s: number; value: number | null; what: string }[]; flagged_count: number }
export interface Channels { pull: number; recording: string; timed: boolean; samples: number; counts_from_s: number; counts_to_s: number;
  available: { key: string; label: string; index: number; heading: string; kind: string; why: Message; lag_s: number }[]; series: ChannelSeries[] }
export interface StepCheck { what: string; found: string; answer: string; allowance_left: number | null }
export interface StepUp {
  answer: string; says: string; limit_rpm: number; next_rpm: number | null; ceiling_rpm: number | null;
  ceiling_from: string | null; checks: StepCheck[];
}
export interface Stage { name: string; state: 'done' | 'due' | 'later' | 'blocked'; says: string }
export interface Day {
  day: string | null; next: string; why: string; stages: Stage[]; mind: string[]; last_pull: number;
  step_up?: StepUp; changed?: string | null; setup?: Record<string, string>;
  engine?: { name: string | null; serial: string | null; owner: string | null; equipment: string | null;
    displacement_m3: number | null; agreed_limit_rpm: number | null };
  air?: { pressure_pa: number | null; pressure_from: string; temperature_k: number | null; temperature_from: string;
    vapour_pressure_pa: number | null; humidity_from: string; factor: number; in_range: boolean; standard: string;
    reference: string; oil_end_k: number | null; coolant_end_k: number | null };
}
export interface Chart { kind: string; values: number[]; centre: number | null; lower: number | null; upper: number | null; in_control: boolean }
export interface Shop {
  calibration_overdue: string | null; calibrations_due: { kind: string; what: string; last_at: string | null; holds_until: string | null; state: string }[]; cell: string | null; bench: Record<string, number | string>;
  repeatability: { level: string; relative_sd: number | null; degrees_of_freedom: number; borrowed: boolean }[];
  calibrations: { kind: string; at: string; valid_until: string | null; value: number | null; note: string | null }[];
  charts: Chart[];
  verdicts: { id: number; at: string; question: string; pulls: string; says: string }[];
}
export interface EngineLine { id: number; name: string; serial: string | null; owner: string | null; family: string | null; part: string | null; pulls: number; added_at: string; last_pull_at: string | null; in_cell: boolean }
export interface Family { family: string; lash_growth: { side: string; builds: number; valves: number; mean_m: number | null; low_m: number | null; high_m: number | null; few: boolean }[];
  engines: { engine: string; build: string; pulls: number; power_w: number | null }[] }
export interface Backups { folder: string; backups: { name: string; bytes: number }[] }
export interface Verified { whole: boolean; recordings: number; curves: number; problems: string[] }
export interface Ledger { recordings: number; pulls: number; heat_cycles: number; running_s: number; highest_speed_rpm: number;
  above: { speed_rpm: number; seconds: number }[];
}
export interface Added { recording_id: number; pull_ids: number[]; rows: number; channels: number; known_before: boolean; notes: Message[] }

export interface BuildLine { item: string; position: string; stage: string | null; shown: string | null; low_shown: string | null; high_shown: string | null;
  mean: number | null; expanded: number | null; low: number | null; high: number | null; from: string | null; verdict: string; caution: string | null }
export interface BuildReading { id: number; kind: string; what: string; position: string | null; stage: string | null; shown: string; at: string | null; who: string | null }
export interface Build {
  begun: boolean; engine?: string; no_walk_because: string | null; valves: string[];
  walk: { firing: number; companion: number; turn_deg: number | null; valves: string[] }[];
  measurements: BuildLine[];
  readings?: BuildReading[];
  steps: { list: string; step: string; caution: string | null; before: string; state: string }[];
  lash: { valve: string; wanted_hot_m: number | null; cold_m: number | null; hot_m: number | null; growth_m: number | null; change_m: number | null; stop: boolean }[];
  findings: { grade: string; about: string; text: string }[];
  after?: { at: string; who: string | null; what: string; running_s: number | null; runs: number }[];
}
export interface Devices { pair_again: string[]; problem: string | null; devices: { id: number; name: string; rights: string; paired_at: string }[]; addresses: string[] }
export interface LiveNews { text: string | null; news: { event: string; at?: string; [key: string]: unknown } }
export interface LiveGauge { key: string; label: string; kind: string; scale_low: number; scale_high: number }
export interface LiveAlarm { name: string; watch: string; action: string; says: string; channel: string; index: number; kind: string; of_reading: boolean }
export interface CutShort { recording: number; source: string | null; began_at: string; last_stored_at: string | null; stored_rows: number }
export interface LiveState { named: string[]; may_name: boolean; may_send: boolean; running: boolean; server: string; now: string; standing: Standing[]; elsewhere: boolean; cut_short: CutShort[]; source: string | null; since: string | null; news: LiveNews[]; gauges: LiveGauge[]; table: number; watched: boolean; alarms: LiveAlarm[] }
export interface Field { name: string; type: 'quantity' | 'integer' | 'boolean' | 'text' | 'choice' | 'numbers'; kind: string; examples: string | null;
  range?: string; default: string | null; section: string | null; help: string; origin: string | null; choices?: string[] }
export interface FieldGroup { key: string; heading: string; fields: Field[] }
export interface Typed { [key: string]: string | string[] | Typed }
export interface ValveEvents { lift_m: number; inlet_opens_btdc: number; inlet_closes_abdc: number; exhaust_opens_bbdc: number; exhaust_closes_atdc: number; overlap: number }
export interface EngineCheck {
  valve_events_deg?: { at_duration_lift?: ValveEvents; at_check_lift?: ValveEvents };
  compression_ratio?: Values; clearance_volume_m3?: Values; quench_m?: number | null;
  clearance_parts_m3?: { chamber: number[]; gasket: number; deck: number; crevice: number | null; dish: number | null; dome: number | null };
  quench_bounds?: { low_m: number; high_m: number; gasket_m: number | null; deck_m: number | null; from: string };
  about: Record<string, { section: string; label: string; kind: string; confidence: string; method: string }>;
  warnings: { grade: string; field: string; text: string }[]; left_out: { figure: string; needs: string }[];
  curves: { angle_deg: number[]; inlet_lift_m?: Values; exhaust_lift_m?: Values; inlet_clearance_m?: Values; exhaust_clearance_m?: Values };
}

export interface Slider { group: string; name: string; kind: string; help: string; with: string | null; items: number; base: number; value: number; low: number; high: number; step: number }
export interface Turn { group: string; name: string; to: number | string }
export interface Tune { [knob: string]: number | null }
export interface Sliders { sliders: Slider[]; fuels: string[]; changes: { name: string; help: string }[]; knobs: { name: string; help: string }[];
  top_speed_rpm: number | null; compression_ratio: number; fuel: string | null; typed: Typed; tune?: Tune; kept_fit_is_of_earlier_physics?: boolean }
export interface PredictSide { typed: Typed; turns?: Turn[]; changes?: string[]; tune?: Tune; spark?: string }
export interface PredictQuestion extends PredictSide { page: string; cell?: string; speed_step?: number; uncertainty?: boolean; against?: PredictSide; band_low?: number; band_high?: number;
  pulls?: number[]; knobs?: string[]; variants?: string[]; grid?: boolean }
export interface PredictedCurve {
  speed_rpm: number[]; torque_n_m: Values; power_w: Values; volumetric_efficiency: Values; fuel_kg_s: Values; bsfc_kg_j: Values; residual_fraction: Values;
  exhaust_k: Values; peak_pressure_pa: Values; ca50_deg: Values; spark_deg: Values; mbt_deg: Values; knock: Values; octane_needed: Values; knock_limited: boolean[]; converged: boolean[];
  not_converged_because: (string | null)[]; wall_s: number; assumed: string[]; cell_m: number; octane: number | null; compression_ratio: number; fitted: boolean;
  torque_standard_uncertainty_n_m?: number[]; uncertainty_from?: string; against?: PredictedCurve;
  gain?: { relative: number | null; relative_standard_uncertainty: number; low_rpm: number; high_rpm: number; beyond_doubt: boolean; says: string };
}
export interface FitAnswer { tune: Tune; speed_rpm: number[]; measured_torque_n_m: number[]; relative_residual: number[]; relative_error_before: number;
  relative_error_after: number; relative_worst_after: number; residual_correlation: number; mind: string | null; minds: string[]; not_fixed: string[]; evaluations: number }
export interface Variant { change: string; says: string; torque_below_n_m: number; torque_below_standard_uncertainty_n_m: number; torque_above_n_m: number; torque_above_standard_uncertainty_n_m: number;
  knock: number; octane_needed: number; converged: boolean; torque_n_m: Values }
export interface VaryAnswer { middle_speed_rpm: number; variants: Variant[]; speed_rpm: number[]; base_torque_n_m: number[] }
export interface Job<A> { job: number; kind: string; state: 'waiting' | 'running' | 'done' | 'refused' | 'cancelled'; share: number; refused: string | null; answer?: A }

export interface Attachment { id: number; belongs: string; owner_id: number; place: string; name: string; media: string; picture: boolean; bytes: number; sha256: string;
  note: string | null; at: string; taken_at: string | null; who: string; taken_back: string | null }
export interface Notes { day: string; notes: { id: number; at: string; who: string; text: string; taken_back: string | null }[];
  marks: { recording_id: number; at: string; time_s: number; text: string }[] }
export interface Handover { engine: string | null; engines: string[]; sheets: { kind: string; title: string; about: string }[]; missing: { grave: boolean; about: string; text: string }[] }

/* What the server said no to, in its own words. */
export class Refusal extends Error {
  constructor(readonly status: number, message: string) { super(message); }
}

/* No answer at all, and no "no": said once by the page, not by each part of it. */
export const isGone = (problem: unknown) => problem instanceof Refusal && problem.status === 0;

async function ask<T>(method: string, path: string, body?: BodyInit, type?: string): Promise<T> {
  let response: Response;
  try {
    const init: RequestInit = { method, headers: type ? { 'Content-Type': type } : {}, cache: 'no-store' };
    if (body !== undefined) init.body = body;
    response = await fetch('/api/v1/' + path, init);
  } catch {
    throw new Refusal(0, t('The server does not answer. It may have been stopped; this page tries again.'));
  }
  const text = await response.text();
  let json: unknown;
  try { json = JSON.parse(text); } catch { throw new Refusal(response.status, t('The answer could not be read.')); }
  if (!response.ok) throw new Refusal(response.status, (json as { error?: string }).error ?? response.statusText);
  return json as T;
}
const get = <T>(path: string) => ask<T>('GET', path);
/* What waited on a device says for which book: the server refuses it for another (409). */
const meant = (book: string) => book ? '?book=' + book : '';
const send = <T>(method: string, path: string, body: unknown) => ask<T>(method, path, JSON.stringify(body), 'application/json');

export const api = {
  book: () => get<Book>('book'),
  demo: () => send<{ pulls: number }>('POST', 'demo', {}),
  pulls: (units: string) => get<{ pulls: Pull[] }>('pulls?units=' + units).then((r) => r.pulls),
  curves: (ids: number[], units: string) => ids.length === 0 ? Promise.resolve([] as PullCurve[])
    : get<{ curves: PullCurve[] }>(`curves?pulls=${ids.join(',')}&units=${units}${ids.length > 1 ? '&raw=no' : ''}`).then((r) => r.curves),
  explain: (id: number, speed: number) => get<Origin>(`pulls/${id}/explain?speed_rpm=${speed}`),
  compare: (a: number[], b: number[], keep: boolean) => send<Comparison>('POST', 'compare', { a, b, keep }),
  sweep: (setting: string, pulls: number[], keep: boolean) => send<Sweep>('POST', 'sweep', { setting, pulls, keep }),
  method: () => get<Method>('method'),
  methodTry: (a: number[], b: number[], typed: Record<string, string>) => send<{ as_stored: Tried; by_this: Tried }>('POST', 'method/try', b.length ? { a, b, typed } : { a, typed }),
  methodKeep: (typed: Record<string, string>, version: string) => send<{ version: string; before: { typed: Record<string, string> } }>('PUT', 'method', { typed, version }),
  channels: (id: number, names: string[]) => get<Channels>(`pulls/${id}/channels?channels=${names.join(',')}`),
  origins: (pull: number, units: string) => get<Origins>(`pulls/${pull}/origins?units=${units}`),
  stepUp: (id: number) => get<StepUp>(`pulls/${id}/step-up`),
  discard: (id: number, reason: string) => send('POST', `pulls/${id}/discard`, { reason }),
  openTrips: () => get<{ trips: Trip[] }>('trips?open=yes').then((r) => r.trips),
  tripsOf: (pull: number) => get<{ trips: Trip[]; seen: Found[] }>(`trips?pull=${pull}`),
  found: (of: 'trip' | 'pull', ids: number[], text: string, who: string) => send('POST', 'found', { of, ids, text, who }),
  foundBack: (of: 'trip' | 'pull', ids: number[], why: string) => send('POST', 'found', { of, ids, take_back: why }),
  takeBack: (id: number) => send('POST', `pulls/${id}/discard`, { take_back: true }),
  add: (file: File, facts: Record<string, string>) => ask<Added>('POST', 'recordings?' + new URLSearchParams({ name: file.name, ...facts }).toString(), file, 'application/octet-stream'),
  day: (units: string) => get<Day>('day?units=' + units),
  ledger: () => get<Ledger>('ledger'),
  shop: () => get<Shop>('shop'),
  engines: (find: string) => get<{ engines: EngineLine[] }>('engines' + (find ? '?find=' + encodeURIComponent(find) : '')),
  engineInCell: (id: number) => send<{ name: string; before: number }>('POST', `engines/${id}/in-cell`, {}),
  families: () => get<{ families: Family[] }>('families'),
  backups: () => get<Backups>('backups'),
  backupAddress: (name: string) => '/api/v1/backups/file?name=' + encodeURIComponent(name),
  backup: () => send<{ backup: string }>('POST', 'backups', {}),
  verifyStart: () => send<{ job: number }>('POST', 'verify', {}).then((r) => r.job),
  settings: (values: Record<string, string>) => send('POST', 'settings', values),
  calibrate: (values: Record<string, string>) => send<{ charts: Chart[] }>('POST', 'calibrations', values),
  build: (units: string, engine: string) => get<Build>('build?units=' + units + (engine ? '&engine=' + encodeURIComponent(engine) : '')),
  buildStart: (facts: Record<string, string>) => send('POST', 'build/start', facts),
  buildWithdraw: (id: number, reason: string) => send('POST', `build/records/${id}/withdraw`, { reason }),
  buildRecord: (kind: string, record: Record<string, string | string[]>, book = '') => send<{ added: boolean }>('POST', 'build/records' + meant(book), { kind, record }),
  devices: () => get<Devices>('devices'),
  deviceCode: (rights: string) => send<{ code: string; addresses: string[]; symbol?: string[] }>('POST', 'devices/code', { rights }),
  deviceRevoke: (id: number) => send('POST', `devices/${id}/revoke`, {}),
  pair: (code: string, name: string) => send('POST', 'pair', { code, name }),
  open: (key: string) => send('POST', 'open', { key }),
  live: () => get<LiveState>('live'),
  liveStart: (sources: string[], changed: string, limit: string, rate: string) => send<{ own_book: string | null }>('POST', 'live/start', { sources, changed, limit, rate }),
  liveControl: (line: string) => send('POST', 'live/control', { line }),
  liveStop: () => send('POST', 'live/stop', {}),
  engineFields: () => get<{ groups: FieldGroup[] }>('engine-fields'),
  engine: (id: number) => get<{ id: number; version: string; typed: Typed }>('engines/' + id),
  engineCheck: (typed: Typed, units: string) => send<EngineCheck>('POST', 'engine-check?units=' + units, { typed }),
  engineKeep: (typed: Typed, version: string | null) => send<{ id: number; version: string }>('PUT', 'engines', { typed, version }),
  predictSliders: (typed: Typed, turns: Turn[], engine: number, units: string) => send<Sliders>('POST', 'predict/sliders?units=' + units, { typed, turns, engine }),
  predictStart: (what: '' | '/fit' | '/vary', question: PredictQuestion, units: string) => send<{ job: number }>('POST', `predict${what}?units=${units}`, question).then((r) => r.job),
  predictJob: <A>(job: number) => get<Job<A>>('predict/' + job),
  predictCancel: (job: number) => send('POST', `predict/${job}/cancel`, {}),
  predictKeep: (engine: number, tune: Tune | null) => send('POST', 'predict/keep', { engine, tune }),
  attachments: (of: string) => get<{ attachments: Attachment[] }>('attachments' + (of ? '?of=' + encodeURIComponent(of) : '')).then((r) => r.attachments),
  attach: (to: string, file: File, about: Record<string, string>) => ask<{ id: number }>('POST', 'attachments?' + new URLSearchParams({ to, name: file.name || 'photo', ...about }).toString(), file, 'application/octet-stream'),
  attachmentAddress: (id: number) => '/api/v1/attachments/' + id,
  detach: (id: number, reason: string) => send('POST', `attachments/${id}/withdraw`, { reason }),
  putBack: (id: number) => send('POST', `attachments/${id}/withdraw`, { put_back: true }),
  notes: (day: string) => get<Notes>('notes?day=' + day),
  noteAdd: (note: Record<string, string>, book: string) => send<{ id: number; added: boolean }>('POST', 'notes' + meant(book), note),
  noteBack: (id: number, put: boolean) => send('POST', `notes/${id}/withdraw`, put ? { put_back: true } : {}),
  handover: (engine: string) => get<Handover>('handover' + (engine ? '?engine=' + encodeURIComponent(engine) : '')),
  sheetPages: (query: Record<string, string>) => get<{ pages: string[] }>('sheet-pages?' + new URLSearchParams(query).toString()).then((r) => r.pages),
  sheetAddress: (query: Record<string, string>) => '/api/v1/sheet?' + new URLSearchParams(query).toString(),
  reportAddress: (query: Record<string, string>) => '/api/v1/report?' + new URLSearchParams(query).toString(),
};
