/* The one door to the server. Every figure that comes through it is in SI (but _rpm and _deg). */

import type { Added, Again, Amended, Answers, AttachmentAdded, Attachments, BackupMade, Backups, Book, Build, BuildDue, BuildPairing, BuildRecordKept, CalibrationKept, CellRightKept, CellTyped, Channels,
  Comparison, Curves, Day, DemoRun, DeviceCode, Devices, EngineCheck, EngineFields, EngineInCell, EngineKept, EngineTyped, Engines,
  Families, Handover, History, JobBegun, Ledger, LoadCell, LiveStarted, LiveState, Method, MethodPut, MethodTry, NoteAdded, Notes, Origin, Origins,
  Pull, PullCurve, Pulls, RecorderKept, Recorders, Sending, SetupNow, SheetPages, Shop, Sliders, SourceKinds, SourceMap, SourcePut, StepUp, Sweep, Trips, Tune, Typed } from './api_types';
import type { EarlyAnswer } from './early';
import type * as described from './api_types';
import { t } from './words';

export type * from './api_types'; /* what the server answers, as docs/api/*.json describes it */
export type Job<A> = Omit<described.Job, 'answer'> & { answer?: A };

/** Does it count where nobody chose it? As ew_pull_counts of the program. */
export const counts = (p: Pull) => p.purpose === 'pull' && !p.discarded && !p.tripped && !p.held;
/* Nothing: the book's own table, else the template. */
export interface AlarmTable { alarms?: string; alarms_table?: string }
export interface Turn { group: string; name: string; to: number | string }
export interface PredictSide { typed: Typed; turns?: Turn[]; changes?: string[]; tune?: Tune; spark?: string }
export interface PredictQuestion extends PredictSide { page: string; cell?: string; from_speed?: number; to_speed?: number; speed_step?: number; uncertainty?: boolean; follow?: boolean; against?: PredictSide; band_low?: number; band_high?: number;
  pulls?: number[]; knobs?: string[]; variants?: string[]; grid?: boolean }

/* What the server said no to, in its own words. */
export class Refusal extends Error {
  /** `field`: what was sent and cannot be read, with its group ("cam.advance"). `reading`: nothing was done, something was to be shown. */
  constructor(readonly status: number, message: string, readonly field: string | null = null, readonly reading = false) { super(message); }
}

/* No answer at all, and no "no": said once by the page, not by each part of it. */
export const isGone = (problem: unknown) => problem instanceof Refusal && problem.status === 0;

/* What was asked for before this script was here (early.ts): each once, and only at the beginning. A refusal is asked for again. */
const outOfUnits = (path: string) => path.replace(/units=(si|us)&?/, '').replace(/[?&]$/, '');
async function begunEarly(path: string): Promise<EarlyAnswer | null> {
  const early = window.early, name = outOfUnits(path), answer = early && performance.now() < early.until_ms ? early.answers[name] : undefined;
  if (!early || !answer) return null;
  early.answers[name] = undefined;
  const got = await answer.catch(() => null);
  return got?.ok ? got : null;
}
/** Other figures are wanted than those that were asked for early. */
export const forgetEarly = () => { if (window.early) window.early.answers = {}; };

async function ask<T>(method: string, path: string, body?: BodyInit, type?: string): Promise<T> {
  const early = method === 'GET' ? await begunEarly(path) : null;
  if (early) return JSON.parse(early.text) as T;
  let response: Response;
  try {
    const init: RequestInit = { method, headers: type ? { 'Content-Type': type } : {}, cache: 'no-store' };
    if (body !== undefined) init.body = body;
    response = await fetch('/api/v1/' + path, init);
  } catch {
    throw new Refusal(0, t('The server does not answer. It may have been stopped; this page tries again.'), null, method === 'GET');
  }
  const text = await response.text();
  let json: unknown;
  try { json = JSON.parse(text); } catch { throw new Refusal(response.status, t('The answer could not be read.')); }
  if (!response.ok) {
    const no = json as { error?: string; field?: string | null };
    throw new Refusal(response.status, no.error ?? response.statusText, no.field ?? null);
  }
  return json as T;
}
export const get = <T>(path: string) => ask<T>('GET', path);
/* What waited on a device says for which book: the server refuses it for another (409). */
const meant = (book: string) => book ? '?book=' + book : '';
/* What is told again while it is on its way, as by a second tap, is told once: both get its one answer. */
const underWay = new Map<string, Promise<unknown>>();
export function send<T>(method: string, path: string, body: unknown): Promise<T> {
  const text = JSON.stringify(body), told = `${method} ${path} ${text}`, same = underWay.get(told) as Promise<T> | undefined;
  if (same) return same;
  const now = ask<T>(method, path, text, 'application/json').finally(() => { underWay.delete(told); });
  underWay.set(told, now);
  return now;
}

export const api = {
  book: () => get<Book>('book'),
  demo: () => send<DemoRun>('POST', 'demo', {}),
  /** `engine` 0: of all. */
  pulls: (units: string, engine = 0) => get<Pulls>(`pulls?units=${units}${engine ? `&engine=${engine}` : ''}`).then((r) => r.pulls),
  newest: (units: string, most: number) => get<Pulls>(`pulls?units=${units}&newest=${most}`),
  curves: (ids: number[], units: string, samples = ids.length === 1) => ids.length === 0 ? Promise.resolve([] as PullCurve[])
    : get<Curves>(`curves?pulls=${ids.join(',')}&units=${units}${samples ? '' : '&raw=no'}`).then((r) => r.curves),
  explain: (id: number, speed: number) => get<Origin>(`pulls/${id}/explain?speed_rpm=${speed}`),
  /** `despite`: what may differ on purpose, as the answer says that it may be asked. */
  compare: (a: number[], b: number[], keep: boolean, despite = '') => send<Comparison>('POST', 'compare', { a, b, keep, ...(despite ? { despite } : {}) }),
  sweep: (setting: string, pulls: number[], keep: boolean) => send<Sweep>('POST', 'sweep', { setting, pulls, keep }),
  method: () => get<Method>('method'),
  methodTry: (a: number[], b: number[], typed: Record<string, string>) => send<MethodTry>('POST', 'method/try', b.length ? { a, b, typed } : { a, typed }),
  methodKeep: (typed: Record<string, string>, version: string) => send<MethodPut>('PUT', 'method', { typed, version }),
  channels: (id: number, names: string[]) => get<Channels>(`pulls/${id}/channels?channels=${names.join(',')}`),
  origins: (pull: number, units: string) => get<Origins>(`pulls/${pull}/origins?units=${units}`),
  stepUp: (id: number) => get<StepUp>(`pulls/${id}/step-up`),
  discard: (id: number, reason: string) => send('POST', `pulls/${id}/discard`, { reason }),
  amend: (id: number, told: Record<string, unknown>) => send<Amended>('POST', `pulls/${id}/amend`, told),
  right: (id: number, reason: string) => send('POST', `pulls/${id}/right`, { reason }),
  history: (id: number) => get<History>(`pulls/${id}/history`),
  askAgain: () => send<Again>('POST', 'answers/again', {}),
  openTrips: () => get<Trips>('trips?open=yes').then((r) => r.trips),
  tripsOf: (pull: number) => get<Required<Trips>>(`trips?pull=${pull}`),
  found: (of: 'trip' | 'pull', ids: number[], text: string, who: string) => send('POST', 'found', { of, ids, text, who }),
  foundBack: (of: 'trip' | 'pull', ids: number[], why: string) => send('POST', 'found', { of, ids, take_back: why }),
  takeBack: (id: number) => send('POST', `pulls/${id}/discard`, { take_back: true }),
  add: (file: File, facts: Record<string, string>) => ask<Added>('POST', 'recordings?' + new URLSearchParams({ name: file.name, ...facts }).toString(), file, 'application/octet-stream'),
  answers: (day: string, units: string) => get<Answers>(`answers?day=${day}&units=${units}`),
  day: (units: string) => get<Day>('day?units=' + units),
  ledger: () => get<Ledger>('ledger'),
  shop: () => get<Shop>('shop'),
  engines: (find: string) => get<Engines>('engines' + (find ? '?find=' + encodeURIComponent(find) : '')),
  engineInCell: (id: number) => send<EngineInCell>('POST', `engines/${id}/in-cell`, {}),
  families: () => get<Families>('families'),
  backups: () => get<Backups>('backups'),
  backupAddress: (name: string) => '/api/v1/backups/file?name=' + encodeURIComponent(name),
  backup: () => send<BackupMade>('POST', 'backups', {}),
  checkStart: (units: string) => send<JobBegun>('POST', 'check?units=' + units, {}).then((r) => r.job),
  cell: () => get<CellTyped>('cell'),
  cellAmend: (typed: Record<string, string>, reason: string, sure: boolean, units: string) => send<JobBegun>('POST', 'cell/amend?units=' + units, { typed, reason, ...(sure ? { sure: 'yes' } : {}) }).then((r) => r.job),
  cellRight: (how: string) => send<CellRightKept>('POST', 'cell/right', { how }),
  cellRightBack: () => send<CellRightKept>('POST', 'cell/right', { take_back: true }),
  cellKeep: (typed: Record<string, string>) => send('PUT', 'cell', { typed }),
  keepRecorder: (recording: number, name: string) => send<RecorderKept>('POST', 'recorders', { recording: String(recording), name }),
  verifyStart: () => send<JobBegun>('POST', 'verify', {}).then((r) => r.job),
  settings: (values: Record<string, string>) => send('POST', 'settings', values),
  /** `keep` false: tried, and nothing is kept. */
  loadCell: (asked: { arm: string; gravity: string; valid: string; note: string; weights: { mass: string; read: string }[] }, keep: boolean) => send<LoadCell>('POST', 'calibrations/weights', { ...asked, keep: keep ? 'yes' : 'no' }),
  sending: () => get<Sending>('sending'),
  recorders: () => get<Recorders>('recorders').then((r) => r.recorders),
  recorderWithdraw: (name: string, reason: string) => send('POST', 'recorders/withdraw', { name, reason }),
  calibrate: (values: Record<string, string>) => send<CalibrationKept>('POST', 'calibrations', values),
  build: (units: string, engine: string) => get<Build>('build?units=' + units + (engine ? '&engine=' + encodeURIComponent(engine) : '')),
  buildStart: (facts: Record<string, string>) => send('POST', 'build/start', facts),
  buildWithdraw: (id: number, reason: string) => send('POST', `build/records/${id}/withdraw`, { reason }),
  /** `first`: a place that was measured already is asked about. */
  buildRecord: (kind: string, record: Record<string, string | string[]>, book = '', first = false) => send<BuildRecordKept>('POST', 'build/records' + meant(book), { kind, record, ...(first ? { first: 'yes' } : {}) }),
  buildDue: (engine: string) => get<BuildDue>('build/due' + (engine ? '?engine=' + encodeURIComponent(engine) : '')),
  buildPairing: (engine: string, clearance: string) => get<BuildPairing>('build/pairing?' + new URLSearchParams({ ...(engine ? { engine } : {}), ...(clearance ? { clearance } : {}) }).toString()),
  devices: () => get<Devices>('devices'),
  deviceCode: (rights: string) => send<DeviceCode>('POST', 'devices/code', { rights }),
  deviceRevoke: (id: number) => send('POST', `devices/${id}/revoke`, {}),
  pair: (code: string, name: string) => send('POST', 'pair', { code, name }),
  open: (key: string) => send('POST', 'open', { key }),
  live: () => get<LiveState>('live'),
  liveStart: (sources: string[], changed: string, limit: string, rate: string, table: AlarmTable) => send<LiveStarted>('POST', 'live/start', { sources, changed, limit, rate, ...table }),
  sourceKinds: () => get<SourceKinds>('live/source-kinds'),
  sourcePut: (kind: string, typed: Record<string, string>, rows: Record<string, string>[] | null) => send<SourcePut>('POST', 'live/source', { kind, typed, ...(rows ? { rows } : {}) }),
  sourceMap: (kind: string, text: string) => send<SourceMap>('POST', 'live/source-map', { kind, text }),
  liveControl: (line: string) => send('POST', 'live/control', { line }),
  setup: (units: string) => get<SetupNow>('setup?units=' + units),
  liveStop: () => send('POST', 'live/stop', {}),
  engineFields: () => get<EngineFields>('engine-fields'),
  engine: (id: number) => get<EngineTyped>('engines/' + id),
  engineCheck: (typed: Typed, units: string) => send<EngineCheck>('POST', 'engine-check?units=' + units, { typed }),
  engineKeep: (typed: Typed, version: string | null) => send<EngineKept>('PUT', 'engines', { typed, version }),
  predictSliders: (typed: Typed, turns: Turn[], engine: number, units: string, changes: string[] = []) => send<Sliders>('POST', 'predict/sliders?units=' + units, { typed, turns, engine, changes }),
  searchStart: (question: { page: string; typed: Typed; question: object; first: number; rounds: number }, units: string) => send<JobBegun>('POST', `predict/search?units=${units}`, question).then((r) => r.job),
  predictStart: (what: '' | '/fit' | '/vary' | '/inside' | '/compression', question: PredictQuestion, units: string) => send<JobBegun>('POST', `predict${what}?units=${units}`, question).then((r) => r.job),
  predictJob: <A>(job: number) => get<Job<A>>('predict/' + job),
  predictCancel: (job: number) => send('POST', `predict/${job}/cancel`, {}),
  predictKeep: (engine: number, tune: Tune | null) => send('POST', 'predict/keep', { engine, tune }),
  attachments: (of: string) => get<Attachments>('attachments' + (of ? '?of=' + encodeURIComponent(of) : '')).then((r) => r.attachments),
  attach: (to: string, file: File, about: Record<string, string>) => ask<AttachmentAdded>('POST', 'attachments?' + new URLSearchParams({ to, name: file.name || 'photo', ...about }).toString(), file, 'application/octet-stream'),
  attachmentAddress: (id: number) => '/api/v1/attachments/' + id,
  detach: (id: number, reason: string) => send('POST', `attachments/${id}/withdraw`, { reason }),
  putBack: (id: number) => send('POST', `attachments/${id}/withdraw`, { put_back: true }),
  notes: (day: string) => get<Notes>('notes?day=' + day),
  noteAdd: (note: Record<string, string>, book: string) => send<NoteAdded>('POST', 'notes' + meant(book), note),
  noteBack: (id: number, put: boolean) => send('POST', `notes/${id}/withdraw`, put ? { put_back: true } : {}),
  handover: (engine: string) => get<Handover>('handover' + (engine ? '?engine=' + encodeURIComponent(engine) : '')),
  sheetPages: (query: Record<string, string>) => get<SheetPages>('sheet-pages?' + new URLSearchParams(query).toString()).then((r) => r.pages),
  sheetAddress: (query: Record<string, string>) => '/api/v1/sheet?' + new URLSearchParams(query).toString(),
  reportAddress: (query: Record<string, string>) => '/api/v1/report?' + new URLSearchParams(query).toString(),
};
