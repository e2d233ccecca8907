import type { ProbeSetup } from '../../hub/api/schemas/access.ts'
import type { AlarmWithChanges } from '../../hub/api/schemas/alarm.ts'
import type { BedInput, BedSeries, BedView } from '../../hub/api/schemas/bed.ts'
import type {
  CalibrationEffectView,
  ElectrodeHealthView,
  SettlingView,
  WeighedInput,
  WeighedView,
} from '../../hub/api/schemas/calibrating.ts'
import type { BroughtBackView, DamagedPartView } from '../../hub/api/schemas/damaged.ts'
import type { BedQuality } from '../../hub/api/schemas/findings.ts'
import type { BufferSet, Crop, Garden, Texture } from '../../hub/api/schemas/garden.ts'
import type { QuarantineView } from '../../hub/api/schemas/health.ts'
import type { DayAhead, Entry, EntryInput } from '../../hub/api/schemas/journal.ts'
import type {
  HandResultView,
  HandSession,
  HandValues,
  MeasuringPlan,
} from '../../hub/api/schemas/measuring.ts'
import type {
  CalibrationCheck,
  CalibrationInput,
  ChannelSeries,
  ProbeView,
} from '../../hub/api/schemas/probe.ts'
import type { OrderView } from '../../hub/api/schemas/order.ts'
import type {
  MessageView,
  RouteInput,
  RouteView,
  TestResultView,
} from '../../hub/api/schemas/message.ts'
import type { ProbeDetail, ProbeLosses } from '../../hub/api/schemas/probe-account.ts'
import type {
  Decision,
  DraftAnswer,
  PlanInput,
  PlanningSettingsView,
  PlanView,
  SoilInput,
  SoilTestInput,
  SoilTestView,
  StageInput,
} from '../../hub/api/schemas/planning.ts'
import type { PlanEnding } from '../../hub/model/plan.ts'
import type { GardenReview, SeasonReportView } from '../../hub/api/schemas/review.ts'
import type { Document } from '../../hub/api/open-api/document.ts'
import type { JobView } from '../../hub/api/schemas/job.ts'
import type { RetentionInput, StorageView, ThinningView } from '../../hub/api/schemas/storage.ts'
import type { FirstLookView } from '../../hub/api/schemas/transfer.ts'
import type { Trial, TrialInput, TrialPlan } from '../../hub/api/schemas/trial.ts'
import type { KeyView, MadeKey, PersonView, SharedBed } from '../../hub/api/schemas/account.ts'
import { ask, query, type Sending } from './ask.ts'
import { firstApi, type SeriesAsked } from './first-api.ts'

/** An observed property of OGC SensorThings API 1.1, as far as it is shown. */
export interface Observed {
  readonly '@iot.id': string
  readonly description: string
}

/** Epoch ms, `from` inside, `to` outside. */
interface Period {
  readonly from: number
  readonly to: number
}
const periodQuery = ({ from, to }: Period): string => query({ from, to })
/** Addresses of tables, the calendar and photos, for links. */
export const files = {
  damaged: (id: number): string => `/api/damaged/${id}/bytes`,
  review: '/api/review.csv',
  report: (bed: number | undefined, period: Period): string =>
    `/api${bed === undefined ? '' : `/beds/${bed}`}/report.csv${periodQuery(period)}`,
  /** `probe` empty: all. Epoch ms. */
  readings: (asked: {
    readonly probe: string
    readonly from: number | undefined
    readonly to: number | undefined
    readonly step: 'raw' | 'hour'
    readonly layout: 'wide' | 'long' | 'lines'
  }): string => {
    const { probe, layout, ...rest } = asked
    const lines = layout === 'lines'
    const of = { ...rest, probe: probe === '' ? undefined : probe }
    return `/api/export/readings.${lines ? 'lp' : 'csv'}${query(lines ? of : { ...of, layout })}`
  },
  records: (table: string): string => `/api/export/records/${table}`,
  backup: '/api/backup.tar',
  calendar: '/api/calendar.ics',
  alarmFeed: '/api/alarms.atom',
  photo: (entry: number): string => `/api/journal/${entry}/photo`,
}

/** All that pages ask of the hub. */
export const api = {
  ...firstApi,
  startJob: (body: { readonly kind: 'replay' | 'rebuild' }) =>
    ask<JobView>('/jobs', { method: 'POST', body }),
  damaged: (signal?: AbortSignal) => ask<DamagedPartView[]>('/damaged', { signal }),
  damageGone: (id: number) => ask<DamagedPartView[]>(`/damaged/${id}/gone`, { method: 'POST' }),
  bringBack: (archive: Blob) =>
    ask<BroughtBackView>('/damaged/bring-back', {
      method: 'POST',
      body: new Blob([archive], { type: 'application/x-tar' }),
    }),
  storage: (signal?: AbortSignal) => ask<StorageView>('/storage', { signal }),
  thinning: (months: number, signal?: AbortSignal) =>
    ask<ThinningView>(`/storage/thinning?months=${months}`, { signal }),
  saveRetention: (body: RetentionInput) =>
    ask<StorageView>('/storage/retention', { method: 'PUT', body }),
  thin: () => ask<JobView>('/storage/thin', { method: 'POST' }),
  compact: () => ask<JobView>('/storage/compact', { method: 'POST' }),
  cancelJob: (id: number) => ask<JobView>(`/jobs/${id}/cancel`, { method: 'POST' }),
  openApi: (signal?: AbortSignal) => ask<Document>('/openapi.json', { signal }),
  /** What is observed, by the SensorThings interface. */
  observed: async (signal?: AbortSignal): Promise<readonly Observed[]> => {
    const response = await fetch('/sta/v1.1/ObservedProperties', { signal: signal ?? null })
    if (!response.ok) return []
    return ((await response.json()) as { readonly value: readonly Observed[] }).value
  },

  saveGarden: (body: Garden) => ask<Garden>('/garden', { method: 'PUT', body }),
  crops: (signal?: AbortSignal) => ask<Crop[]>('/crops', { signal }),
  textures: (signal?: AbortSignal) => ask<Texture[]>('/textures', { signal }),
  buffers: (signal?: AbortSignal) => ask<BufferSet[]>('/buffers', { signal }),

  addBed: (body: BedInput) => ask<BedView>('/beds', { method: 'POST', body }),
  saveBed: (id: number, body: BedInput) => ask<BedView>(`/beds/${id}`, { method: 'PUT', body }),
  retireBed: (id: number) => ask<unknown>(`/beds/${id}`, { method: 'DELETE' }),
  addSpot: (bed: number, name: string) =>
    ask<unknown>(`/beds/${bed}/spots`, { method: 'POST', body: { name } }),
  renameSpot: (id: number, name: string) =>
    ask<unknown>(`/spots/${id}`, { method: 'PUT', body: { name } }),
  removeSpot: (id: number) => ask<unknown>(`/spots/${id}`, { method: 'DELETE' }),

  quality: (bed: number, signal?: AbortSignal) =>
    ask<BedQuality>(`/beds/${bed}/quality?days=30`, { signal }),
  review: (signal?: AbortSignal) => ask<GardenReview>('/review', { signal }),
  bedReport: (bed: number, period: Period, signal?: AbortSignal) =>
    ask<SeasonReportView>(`/beds/${bed}/report${periodQuery(period)}`, { signal }),
  gardenReport: (period: Period, signal?: AbortSignal) =>
    ask<SeasonReportView[]>(`/report${periodQuery(period)}`, { signal }),
  planningSettings: (signal?: AbortSignal) =>
    ask<PlanningSettingsView>('/planning-settings', { signal }),
  savePlanningSettings: (body: PlanningSettingsView) =>
    ask<PlanningSettingsView>('/planning-settings', { method: 'PUT', body }),

  decision: (bed: number, target: number | null, signal?: AbortSignal) =>
    ask<Decision>(`/beds/${bed}/decision${query({ target: target ?? undefined })}`, { signal }),
  draftPlan: (bed: number, body: PlanInput, signal?: AbortSignal) =>
    ask<DraftAnswer>(`/beds/${bed}/plans/draft`, { method: 'POST', body, signal }),
  keepPlan: (bed: number, body: PlanInput) =>
    ask<PlanView>(`/beds/${bed}/plans`, { method: 'POST', body }),
  plans: (bed: number, signal?: AbortSignal) => ask<PlanView[]>(`/beds/${bed}/plans`, { signal }),
  /** `stage` counts from 1. */
  stageDone: (plan: number, stage: number, body: StageInput) =>
    ask<PlanView>(`/plans/${plan}/stages/${stage}/done`, { method: 'POST', body }),
  closePlan: (plan: number, ending: PlanEnding) =>
    ask<PlanView>(`/plans/${plan}/close`, { method: 'POST', body: { ending } }),
  saveSoil: (bed: number, body: SoilInput) =>
    ask<SoilInput>(`/beds/${bed}/soil`, { method: 'PUT', body }),
  addSoilTest: (bed: number, body: SoilTestInput) =>
    ask<SoilTestView>(`/beds/${bed}/soil-tests`, { method: 'POST', body }),
  removeSoilTest: (id: number) => ask<unknown>(`/soil-tests/${id}`, { method: 'DELETE' }),
  photos: (bed: number, signal?: AbortSignal) => ask<number[]>(`/beds/${bed}/photos`, { signal }),
  savePhoto: (entry: number, body: Blob) =>
    ask<unknown>(`/journal/${entry}/photo`, { method: 'PUT', body }),
  removePhoto: (entry: number) => ask<unknown>(`/journal/${entry}/photo`, { method: 'DELETE' }),

  trials: (signal?: AbortSignal) => ask<Trial[]>('/trials', { signal }),
  planTrial: (body: TrialInput, signal?: AbortSignal) =>
    ask<TrialPlan>('/trials/plan', { method: 'POST', body, signal }),
  addTrial: (body: TrialInput) => ask<Trial>('/trials', { method: 'POST', body }),
  giveUpTrial: (id: number) => ask<unknown>(`/trials/${id}/give-up`, { method: 'POST' }),
  removeTrial: (id: number) => ask<unknown>(`/trials/${id}`, { method: 'DELETE' }),

  wholeJournal: (range: { from: number; to: number }, signal?: AbortSignal) =>
    ask<Entry[]>(`/journal${query(range)}`, { signal }),
  ahead: (signal?: AbortSignal) => ask<DayAhead[]>('/ahead', { signal }),
  addEntry: (bed: number, body: EntryInput, sending: Sending = {}) =>
    ask<Entry>(`/beds/${bed}/journal`, { method: 'POST', body, ...sending }),
  saveEntry: (id: number, body: EntryInput) =>
    ask<Entry>(`/journal/${id}`, { method: 'PUT', body }),
  removeEntry: (id: number) => ask<unknown>(`/journal/${id}`, { method: 'DELETE' }),

  losses: (signal?: AbortSignal) => ask<ProbeLosses[]>('/losses', { signal }),
  probe: (id: string, signal?: AbortSignal) => ask<ProbeDetail>(`/probes/${id}`, { signal }),
  channelSeries: (
    id: string,
    asked: { channel: string; from: number; to: number; points: number },
    signal?: AbortSignal,
  ) => ask<ChannelSeries>(`/probes/${id}/series${query(asked)}`, { signal }),
  addProbe: (body: { id?: string; name: string }) =>
    ask<ProbeView>('/probes', { method: 'POST', body }),
  saveProbe: (id: string, name: string) =>
    ask<ProbeView>(`/probes/${id}`, { method: 'PUT', body: { name } }),
  saveProbeSettings: (id: string, body: NonNullable<OrderView['settings']>) =>
    ask<OrderView>(`/probes/${id}/settings`, { method: 'PUT', body }),
  commandProbe: (id: string, what: NonNullable<OrderView['what']>) =>
    ask<OrderView>(`/probes/${id}/commands`, { method: 'POST', body: { what } }),
  makePassword: (id: string) => ask<ProbeSetup>(`/probes/${id}/password`, { method: 'POST' }),
  revokePassword: (id: string) => ask<unknown>(`/probes/${id}/password`, { method: 'DELETE' }),
  placeProbe: (id: string, body: { spotId: number | null; from: number }) =>
    ask<unknown>(`/probes/${id}/placement`, { method: 'POST', body }),
  addCalibration: (id: string, body: CalibrationInput) =>
    ask<unknown>(`/probes/${id}/calibrations`, { method: 'POST', body }),
  checkCalibration: (id: string, body: CalibrationInput, signal?: AbortSignal) =>
    ask<CalibrationCheck>(`/probes/${id}/calibrations/check`, { method: 'POST', body, signal }),
  calibrationEffect: (id: string, body: CalibrationInput, until: number, signal?: AbortSignal) =>
    ask<CalibrationEffectView>(`/probes/${id}/calibrations/effect${query({ until })}`, {
      method: 'POST',
      body,
      signal,
    }),
  settling: (
    id: string,
    asked: { channel: string; since: number; temperature?: number | undefined },
    signal?: AbortSignal,
  ) => ask<SettlingView>(`/probes/${id}/settling${query(asked)}`, { signal }),
  electrodes: (id: string, signal?: AbortSignal) =>
    ask<ElectrodeHealthView[]>(`/probes/${id}/electrode`, { signal }),
  waterByWeight: (body: WeighedInput) =>
    ask<WeighedView>('/water-by-weight', { method: 'POST', body }),

  measuring: (bed: number, wanted: number, signal?: AbortSignal) =>
    ask<MeasuringPlan>(`/beds/${bed}/measuring${query({ wanted })}`, { signal }),
  checkValues: (bed: number, body: HandValues, signal?: AbortSignal) =>
    ask<HandResultView>(`/beds/${bed}/measuring/check`, { method: 'POST', body, signal }),
  saveValues: (bed: number, body: HandSession, sending: Sending = {}) =>
    ask<Entry>(`/beds/${bed}/measuring`, { method: 'POST', body, ...sending }),
  changeCalibration: (id: number, body: CalibrationInput) =>
    ask<unknown>(`/calibrations/${id}`, { method: 'PUT', body }),
  removeCalibration: (id: number) => ask<unknown>(`/calibrations/${id}`, { method: 'DELETE' }),

  lookAtFile: (body: Blob, delimiter?: string) =>
    ask<FirstLookView>(`/import/look${query({ delimiter })}`, {
      method: 'POST',
      body: new Blob([body], { type: 'application/octet-stream' }),
    }),

  signIn: (body: { name: string; password: string }) =>
    ask<unknown>('/sign-in', { method: 'POST', body }),
  signOut: () => ask<unknown>('/sign-out', { method: 'POST' }),
  makeOwner: (body: { name: string; password: string; code?: string }) =>
    ask<unknown>('/owner', { method: 'POST', body }),
  changePassword: (body: { current: string; password: string }) =>
    ask<unknown>('/password', { method: 'PUT', body }),
  people: (signal?: AbortSignal) => ask<PersonView[]>('/people', { signal }),
  addPerson: (body: { name: string; role: PersonView['role']; password: string }) =>
    ask<PersonView>('/people', { method: 'POST', body }),
  savePerson: (id: number, body: { name: string; role: PersonView['role'] }) =>
    ask<PersonView>(`/people/${id}`, { method: 'PUT', body }),
  removePerson: (id: number) => ask<unknown>(`/people/${id}`, { method: 'DELETE' }),
  givePassword: (id: number, password: string) =>
    ask<unknown>(`/people/${id}/password`, { method: 'PUT', body: { password } }),
  endSession: (id: number) => ask<unknown>(`/sessions/${id}`, { method: 'DELETE' }),
  keys: (kind: 'tokens' | 'shares', signal?: AbortSignal) => ask<KeyView[]>(`/${kind}`, { signal }),
  makeToken: (body: { name: string; scopes: KeyView['scopes']; endsAt: number | null }) =>
    ask<MadeKey>('/tokens', { method: 'POST', body }),
  makeShare: (body: { name: string; bedId: number; endsAt: number | null }) =>
    ask<MadeKey>('/shares', { method: 'POST', body }),
  removeKey: (kind: 'tokens' | 'shares', id: number) =>
    ask<unknown>(`/${kind}/${id}`, { method: 'DELETE' }),
  feedAddress: (signal?: AbortSignal) => ask<KeyView | null>('/feed-address', { signal }),
  makeFeedAddress: () => ask<MadeKey>('/feed-address', { method: 'POST' }),
  removeFeedAddress: () => ask<unknown>('/feed-address', { method: 'DELETE' }),
  shared: (key: string, signal?: AbortSignal) => ask<SharedBed>(`/shared/${key}`, { signal }),
  sharedSeries: (key: string, asked: Omit<SeriesAsked, 'spots'>, signal?: AbortSignal) =>
    ask<BedSeries>(`/shared/${key}/series${query({ ...asked })}`, { signal }),

  alarm: (id: number, signal?: AbortSignal) => ask<AlarmWithChanges>(`/alarms/${id}`, { signal }),
  acknowledgeAlarms: (ids: readonly number[]) =>
    ask<unknown>('/alarms/acknowledge', { method: 'POST', body: { ids } }),
  shelveAlarm: (id: number, body: { until: number; note: string }) =>
    ask<unknown>(`/alarms/${id}/shelve`, { method: 'POST', body }),
  unshelveAlarm: (id: number) => ask<unknown>(`/alarms/${id}/unshelve`, { method: 'POST' }),
  noteAlarm: (id: number, note: string) =>
    ask<unknown>(`/alarms/${id}/notes`, { method: 'POST', body: { note } }),

  messageRoutes: (signal?: AbortSignal) => ask<RouteView[]>('/message-routes', { signal }),
  addMessageRoute: (body: RouteInput) =>
    ask<RouteView>('/message-routes', { method: 'POST', body }),
  saveMessageRoute: (id: number, body: RouteInput) =>
    ask<RouteView>(`/message-routes/${id}`, { method: 'PUT', body }),
  removeMessageRoute: (id: number) => ask<unknown>(`/message-routes/${id}`, { method: 'DELETE' }),
  pauseMessageRoute: (id: number, until: number | null) =>
    ask<RouteView>(`/message-routes/${id}/pause`, { method: 'POST', body: { until } }),
  testMessageRoute: (id: number) =>
    ask<TestResultView>(`/message-routes/${id}/test`, { method: 'POST' }),
  retryMessageRoute: (id: number) =>
    ask<unknown>(`/message-routes/${id}/retry`, { method: 'POST' }),
  messages: (limit: number, signal?: AbortSignal) =>
    ask<MessageView[]>(`/messages${query({ limit })}`, { signal }),
  pushKey: () => ask<{ publicKey: string }>('/push-key'),

  quarantine: (limit: number, signal?: AbortSignal) =>
    ask<QuarantineView[]>(`/quarantine${query({ limit })}`, { signal }),
}
