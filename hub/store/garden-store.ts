import type { Alarm, AlarmChange, AlarmStep } from '../model/alarm.ts'
import type { Bed, Garden, Spot } from '../model/bed.ts'
import type { Credential } from '../model/credential.ts'
import type { Answer, Order, Wish } from '../model/order.ts'
import type { JournalEntry, NewJournalEntry } from '../model/journal.ts'
import type {
  Calibration,
  Channel,
  NewCalibration,
  Placement,
  Probe,
  ProbeState,
} from '../model/probe.ts'
import type { NewPlan, Photo, Plan, PlanEnding, PlanningSettings } from '../model/plan.ts'
import type { BedSoil, NewSoilTest, SoilTest } from '../model/soil.ts'
import type { Retention, StorageDay } from '../model/storage.ts'
import type { NewTrial, Trial } from '../model/trial.ts'
import type { AccountStore } from './account-store.ts'
import type { DeliveryStore } from './delivery-store.ts'

/** A key of the sender's own making, a digest of what was sent with it, and when it came, epoch ms. */
export interface Sent {
  readonly key: string
  readonly digest: string
  readonly at: number
}
/** What a key was used for: the digest, and the entry as it was stored then. */
export interface SentBefore {
  readonly digest: string
  readonly entry: JournalEntry
}

export type NewBed = Omit<Bed, 'id' | 'rank' | 'createdAt' | 'retiredAt'>

/** What a probe's messages say of it; only the members given change. */
export interface ProbeNews {
  readonly id: string
  /** Arrival, epoch ms. */
  readonly at: number
  /** The hub's clock was set back: `at` holds, though it was seen later by the clock of then. @default false */
  readonly clockSetBack?: boolean
  readonly state?: ProbeState
  readonly expectedAt?: number | null
  readonly firmware?: string | null
  readonly hardware?: string | null
  readonly intervalS?: number
  readonly channels?: readonly Omit<Channel, 'probe'>[]
}

/**
 * Everything small, edited and transactional: garden, beds, spots, probes, placements, calibrations,
 * journal, alarms, trials, plans, people. Always SQLite, whatever holds the readings. Every method is one transaction.
 *
 * Methods that change something return what is stored afterwards, or `null` when the id is unknown.
 */
export interface GardenStore extends AccountStore, DeliveryStore {
  garden(): Promise<Garden>
  setGarden(garden: Garden): Promise<Garden>

  /** Beds in use by rank, then name; with `retired` also the retired ones, last. */
  beds(options?: { retired?: boolean }): Promise<readonly Bed[]>
  bed(id: number): Promise<Bed | null>
  addBed(bed: NewBed, at: number): Promise<Bed>
  changeBed(id: number, bed: NewBed): Promise<Bed | null>
  /** Takes the bed out of use, ends its placements and gives up its plan; its history stays. */
  retireBed(id: number, at: number): Promise<Bed | null>

  spots(bedId?: number): Promise<readonly Spot[]>
  addSpot(bedId: number, name: string): Promise<Spot | null>
  renameSpot(id: number, name: string): Promise<Spot | null>
  /** Only a spot that never held a probe can go; otherwise 'in use' and nothing changes. */
  removeSpot(id: number): Promise<'removed' | 'in use' | null>

  /** Every probe that ever spoke or was added, adopted first. */
  probes(): Promise<readonly Probe[]>
  probe(id: string): Promise<Probe | null>
  /** Notes what messages said. An unknown id becomes a stranger, up to `maxStrangers` of them. */
  hear(
    news: readonly ProbeNews[],
    maxStrangers: number,
  ): Promise<{ readonly refused: readonly string[] }>
  /** Makes a probe the gardener's own, or renames it. An id never heard of is added. */
  adoptProbe(id: string, name: string, at: number): Promise<Probe>
  channels(probe?: string): Promise<readonly Channel[]>
  /** Of every probe that has or had a password of its own. */
  credentials(): Promise<readonly Credential[]>
  /** Takes the place of what was known of the probe's password. The probe must be known. */
  setCredential(credential: Credential): Promise<void>

  /** All placements, or those of one bed's spots; ascending in `from`. */
  placements(bedId?: number): Promise<readonly Placement[]>
  /**
   * Moves a probe to a spot (or out of the beds with null) from `from` on: ends the placement that held
   * then, removes later ones.
   */
  placeProbe(probe: string, spotId: number | null, from: number): Promise<readonly Placement[]>

  /** All calibrations, or one probe's; ascending in `at`. */
  calibrations(probe?: string): Promise<readonly Calibration[]>
  addCalibration(calibration: NewCalibration): Promise<Calibration>
  changeCalibration(id: number, calibration: NewCalibration): Promise<Calibration | null>
  removeCalibration(id: number): Promise<boolean>

  /** Entries of one bed (or all) with `from <= at < to`, ascending. */
  journal(range: { bedId?: number; from?: number; to?: number }): Promise<readonly JournalEntry[]>
  entry(id: number): Promise<JournalEntry | null>
  addEntry(entry: NewJournalEntry): Promise<JournalEntry>
  changeEntry(id: number, entry: NewJournalEntry): Promise<JournalEntry | null>
  /** Its photo goes with it; a stage of a plan that it marked lies ahead again. */
  removeEntry(id: number): Promise<boolean>
  /** What was stored with a key; null for a key that was never used. */
  sentBefore(key: string): Promise<SentBefore | null>
  /** Writes an entry and its key, both or neither; with a key that was used before nothing, and `again` is true. */
  addEntryOnce(
    entry: NewJournalEntry,
    sent: Sent,
  ): Promise<SentBefore & { readonly again: boolean }>

  /** Alarms whose state is not `normal`, newest first. */
  openAlarms(): Promise<readonly Alarm[]>
  /** All episodes, newest first. */
  alarms(limit: number): Promise<readonly Alarm[]>
  alarm(id: number): Promise<Alarm | null>
  /** Stores episodes, new ones (id 0) and changed ones, with what happened to them; returns them with their ids. */
  saveAlarms(steps: readonly AlarmStep[]): Promise<readonly Alarm[]>
  /** What happened to alarms (or to one) after a change, ascending; `after` is not among them. */
  alarmChanges(options: {
    /** @default 0 */
    after?: number
    alarmId?: number
    limit: number
  }): Promise<readonly AlarmChange[]>

  /** Newest start first. */
  trials(): Promise<readonly Trial[]>
  trial(id: number): Promise<Trial | null>
  addTrial(trial: NewTrial, at: number): Promise<Trial>
  /** Null when the id is unknown or it was given up before. */
  giveUpTrial(id: number, at: number): Promise<Trial | null>
  removeTrial(id: number): Promise<boolean>

  /** What is known of a bed's soil; everything null when nothing was said. Null for an unknown bed. */
  bedSoil(bedId: number): Promise<BedSoil | null>
  setBedSoil(soil: BedSoil): Promise<BedSoil | null>
  /** Of one bed, or of all; oldest first. */
  soilTests(bedId?: number): Promise<readonly SoilTest[]>
  addSoilTest(test: NewSoilTest): Promise<SoilTest>
  removeSoilTest(id: number): Promise<boolean>

  /** Of one bed, or of all; newest first. */
  plans(bedId?: number): Promise<readonly Plan[]>
  plan(id: number): Promise<Plan | null>
  /** Null when the bed has a plan that runs. */
  addPlan(plan: NewPlan, at: number): Promise<Plan | null>
  /**
   * Writes the treatment in the journal and marks the stage (counted from 0) with it, both or neither. Null when plan
   * or stage is unknown, done, or the plan is closed.
   */
  doStage(
    planId: number,
    stage: number,
    entry: NewJournalEntry,
  ): Promise<{ readonly plan: Plan; readonly entry: JournalEntry } | null>
  /** Null when the id is unknown or it was closed before. */
  closePlan(id: number, ending: PlanEnding, at: number): Promise<Plan | null>

  planningSettings(): Promise<PlanningSettings>
  setPlanningSettings(settings: PlanningSettings): Promise<PlanningSettings>

  /** Journal entries of a bed that have a photo. */
  photos(bedId: number): Promise<readonly number[]>
  photo(entryId: number): Promise<Photo | null>
  /** False when there is no such entry. One photo an entry: a new one takes its place. */
  setPhoto(photo: Photo): Promise<boolean>
  removePhoto(entryId: number): Promise<boolean>

  /** Gives the wish a number never used before, seconds since 1970 at least. */
  addOrder(probe: string, wish: Wish, at: number): Promise<Order>
  /** Newest first. */
  orders(probe: string, limit: number): Promise<readonly Order[]>
  /** Of all probes: what is not answered and not expired at a time, ascending in id. */
  openOrders(at: number): Promise<readonly Order[]>
  /** Of all probes or one: the newest settings that were not refused, one a probe at most. */
  standingSettings(probe?: string): Promise<readonly Order[]>
  /** Notes that it went out once more. */
  orderSent(id: number, at: number): Promise<Order | null>
  /** Null when that probe has no such order, or it was answered before. */
  answerOrder(probe: string, id: number, answer: Answer): Promise<Order | null>

  retention(): Promise<Retention>
  setRetention(retention: Retention): Promise<Retention>
  /** A row a UTC day for 400 days, ascending. */
  storageDays(): Promise<readonly StorageDay[]>
  /** The last of a day stays. */
  noteStorageDay(day: StorageDay): Promise<void>

  close(): Promise<void>
}
