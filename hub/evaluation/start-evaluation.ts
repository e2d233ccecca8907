import { advance, closeForRetired } from '../alerts/advance.ts'
import { acknowledge } from '../alerts/operate.ts'
import type { ProbeLook } from '../alerts/probe-look.ts'
import { assess, ASSESS_HOURLY_MS, ASSESS_RECENT_MS } from '../analysis/assess.ts'
import type { WatchEvent } from '../analysis/watch/event.ts'
import type { Assessment } from '../analysis/assessment.ts'
import { HubError } from '../errors.ts'
import type { Alarm, AlarmStep } from '../model/alarm.ts'
import type { Bed } from '../model/bed.ts'
import { DAY, MINUTE, SECOND, type Clock } from '../model/clock.ts'
import type { Manner } from '../model/manner.ts'
import { holdsAt } from '../model/probe.ts'
import { loadFeeds, readSites, type Sites } from '../store/feeds.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import { inManner, manner, PLAIN } from '../words/say.ts'
import type { WatchStore } from '../store/watch-store.ts'
import { bedStudies } from './bed-studies.ts'
import { type BedWatch, watchFold } from './fold-watch.ts'
import { saidEverywhere } from './said-everywhere.ts'
import { suppliesOf } from './probe-looks.ts'
import { supplyDays } from './supply-days.ts'
import { type HubFacts, watchRest } from './watch-rest.ts'

/** A treatment may explain a change for this long. */
const JOURNAL_MS = 400 * DAY
/** Time passes without readings too: every bed is looked at again this often. */
const SWEEP_MS = 5 * MINUTE
/** Probes and the hub are looked at this often at most: what a reading says of them can wait so long. */
const REST_EVERY_MS = 30 * SECOND
/** What arrives together is looked at together. */
const GATHER_MS = 100
/** After a round the loop rests for so many times what the round took: looking never eats the machine. */
const REST_TIMES = 4

export interface EvaluationDeps {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  readonly memory: WatchStore
  readonly clock: Clock
  /** How the garden is spoken to. @default English and metric */
  readonly manner?: () => Manner
  /** Left out: nothing is said of the hub itself, nor of silent probes. */
  readonly hub?: () => Promise<HubFacts>
  /** Least time between two rounds, ms; readings that come meanwhile share the next one. @default 1000 */
  readonly restMs?: number
  readonly onAssessed: (assessment: Assessment) => void
  /** Alarms that were raised or changed, already stored. */
  readonly onAlarms: (alarms: readonly Alarm[]) => void
  /** A mistake of ours: the process should end. */
  readonly onFatal: (error: unknown) => void
}

export interface Evaluation {
  /**
   * These beds (all when left out) have news. With `from` (epoch ms) what was seen of them from then on no longer
   * holds: a journal, a calibration or a placement was edited.
   */
  touch(bedIds?: readonly number[], from?: number): void
  /** The beds in which these probes sit have readings from `from` on (epoch ms) that are new. */
  touchProbes(probes: readonly string[], from: number): void
  latest(bedId: number): Assessment | null
  /** Everything the watch of a bed remembers, oldest first; empty before the first round. */
  events(bedId: number): readonly WatchEvent[]
  /** Null: there is no such alarm. */
  acknowledge(alarmId: number): Promise<Alarm | null>
  /**
   * What people do with alarms: `how` makes a step of each as it is then, or none. Resolves to them as they are
   * afterwards, null for those there are not.
   */
  operate(
    alarmIds: readonly number[],
    how: (alarm: Alarm, at: number) => AlarmStep | null,
  ): Promise<readonly (Alarm | null)[]>
  /** The garden is spoken to in another manner: everything is looked at again. */
  sayAnew(): void
  /** A spot has another name: the open alarms of its bed name it by that from now on. */
  spotRenamed(bedId: number, was: string, name: string): Promise<void>
  state(): {
    readonly lastAt: number | null
    readonly problem: string | null
    /** How often all rules ran over a bed since the hub started. */
    readonly rounds: number
  }
  /** While held nothing is assessed; what is touched waits. */
  hold(): void
  release(): void
  stop(): Promise<void>
}

/**
 * The loop: read, assess, advance, write. Alarms change only here, one bed after the other, so that an
 * acknowledgement and an assessment never overwrite each other.
 */
export function startEvaluation(deps: EvaluationDeps): Evaluation {
  const { readings, garden, clock } = deps
  const waiting = new Set<number>()
  /** Probes with new readings, and the earliest of them. */
  const probesWaiting = new Map<string, number>()
  /** What was seen of any bed from then on no longer holds. */
  let allFrom = Infinity
  const fold = watchFold(deps)
  const studies = bedStudies({ garden, fold })
  const batteries = supplyDays(readings)
  const latest = new Map<number, Assessment>()
  const supplies = new Map<string, Omit<ProbeLook['supply'], 'told'>>()
  let restAt = -Infinity
  let shelfTimer: NodeJS.Timeout | undefined
  let everyBed = true
  let held = false
  let stopped = false
  let timer: NodeJS.Timeout | undefined
  let lastAt: number | null = null
  let rounds = 0
  let problem: string | null = null
  let roundAt = -Infinity
  let roundMs = 0
  let chain: Promise<unknown> = Promise.resolve()

  /** One thing after the other; a fault of the world is shown and tried again, ours ends the process. */
  function enqueue<T>(work: () => Promise<T>): Promise<T> {
    const result = chain.then(() => inManner(deps.manner?.() ?? PLAIN, work))
    chain = result.catch(() => undefined)
    return result
  }

  /** Forgets beds that are no longer in use, and ends their alarms. */
  async function closeRetired(beds: readonly Bed[]): Promise<void> {
    const used = new Set(beds.map((b) => b.id))
    for (const id of latest.keys()) if (!used.has(id)) latest.delete(id)
    const orphans = (await garden.openAlarms()).filter(
      ({ bedId }) => bedId !== null && !used.has(bedId),
    )
    if (orphans.length > 0) {
      const at = clock()
      const steps = await saidEverywhere(orphans, (alarms) => closeForRetired(alarms, at))
      deps.onAlarms(await garden.saveAlarms(steps))
    }
  }

  async function bedsWaiting(): Promise<readonly Bed[]> {
    const beds = await garden.beds()
    if (probesWaiting.size > 0) {
      const news = new Map(probesWaiting)
      probesWaiting.clear()
      const bedOf = new Map((await garden.spots()).map(({ id, bedId }) => [id, bedId]))
      for (const placement of await garden.placements()) {
        const from = news.get(placement.probe)
        const bedId = bedOf.get(placement.spotId)
        if (from === undefined || bedId === undefined) continue
        if (placement.to !== null && placement.to <= from) continue
        const since = Math.max(from, placement.from)
        fold.changed(bedId, since)
        // Days that had ended read differently now: the slow questions too.
        if (since < Math.floor(clock() / DAY) * DAY) studies.outdated(bedId)
        if (holdsAt(placement, clock())) waiting.add(bedId)
      }
    }
    if (allFrom < Infinity) {
      for (const { id } of beds) {
        fold.changed(id, allFrom)
        studies.outdated(id)
      }
      allFrom = Infinity
    }
    if (everyBed) {
      everyBed = false
      waiting.clear()
      await closeRetired(beds)
      return beds
    }
    const chosen = beds.filter((b) => waiting.has(b.id))
    if (waiting.size > chosen.length) await closeRetired(beds)
    waiting.clear()
    return chosen
  }

  async function look(bed: Bed, watch: BedWatch, sites: Sites): Promise<void> {
    const at = clock()
    const [hourly, recent, journal, open] = await Promise.all([
      loadFeeds({ readings, garden }, bed, at - ASSESS_HOURLY_MS, at + MINUTE, 'hour', sites),
      loadFeeds({ readings, garden }, bed, at - ASSESS_RECENT_MS, at + MINUTE, 'raw', sites),
      garden.journal({ bedId: bed.id, from: at - JOURNAL_MS, to: at + MINUTE }),
      garden.openAlarms(),
    ])
    const assessed = (): Assessment =>
      assess(bed, { hourly, recent }, watch, studies.latest(bed.id), journal, at)
    const assessment = assessed()
    const here = manner()
    const days = await batteries.of(recent, at)
    for (const [probe, supply] of suppliesOf(hourly, recent, days)) supplies.set(probe, supply)
    const changed = await saidEverywhere(open, (standing) =>
      advance(standing, manner() === here ? assessment : assessed(), at),
    )
    const saved = changed.length > 0 ? await garden.saveAlarms(changed) : []
    latest.set(bed.id, assessment)
    lastAt = at
    rounds++
    if (saved.length > 0) deps.onAlarms(saved)
    deps.onAssessed(assessment)
  }

  /** Probes, the hub and the shelf; then beds are looked at knowing of them. */
  async function rest(): Promise<void> {
    const at = clock()
    restAt = at
    const saved = await watchRest(deps, supplies, at)
    if (saved.length > 0) deps.onAlarms(saved)
    await awaitShelf()
  }

  /** The shelf is looked at again when the first of what lies on it is due. */
  async function awaitShelf(): Promise<void> {
    clearTimeout(shelfTimer)
    const ends = (await garden.openAlarms()).flatMap(({ shelvedUntil }) => shelvedUntil ?? [])
    const wait = Math.min(...ends) - clock()
    // What is further away is found by the next sweep.
    if (!(wait < SWEEP_MS) || stopped) return
    shelfTimer = setTimeout(
      () => {
        restAt = -Infinity
        schedule()
      },
      Math.max(0, wait),
    )
  }

  async function round(): Promise<void> {
    const begun = performance.now()
    try {
      const isSweep = everyBed
      const chosen = await bedsWaiting()
      const beds = await garden.beds()
      const at = clock()
      const watches = await fold.upTo(beds, at)
      // A clock that was set back must not keep it from happening.
      const isDue = isSweep || at - restAt >= REST_EVERY_MS || at < restAt
      if (isDue && !stopped && !held) await rest()
      // What is edited from here on makes its bed wait again.
      const sites = await readSites(garden)
      for (const bed of chosen) {
        const watch = watches.get(bed.id)
        if (stopped || held || watch === undefined) {
          waiting.add(bed.id)
          continue
        }
        await look(bed, watch, sites)
      }
      if (!stopped && !held) {
        const studied = await studies.goOn(beds, watches, at)
        // There may be more of them, and the page wants to see this one.
        if (studied !== null) waiting.add(studied)
      }
      problem = null
    } catch (error) {
      if (!(error instanceof HubError)) {
        deps.onFatal(error)
        return
      }
      problem = error.message
      everyBed = true
    } finally {
      roundMs = performance.now() - begun
    }
  }

  function schedule(): void {
    if (timer !== undefined || stopped || held) return
    const rest = Math.max(deps.restMs ?? 1000, REST_TIMES * roundMs)
    // A clock that was set back must not put the loop to sleep.
    const delay = Math.min(Math.max(GATHER_MS, roundAt + rest - clock()), rest)
    timer = setTimeout(() => {
      enqueue(round).then(
        () => {
          timer = undefined
          roundAt = clock()
          if (everyBed || waiting.size > 0 || probesWaiting.size > 0) schedule()
        },
        (error: unknown) => deps.onFatal(error),
      )
    }, delay)
  }

  function operate(
    alarmIds: readonly number[],
    how: (alarm: Alarm, at: number) => AlarmStep | null,
  ): Promise<readonly (Alarm | null)[]> {
    return enqueue(async () => {
      const at = clock()
      const alarms = await Promise.all(alarmIds.map((id) => garden.alarm(id)))
      const steps = alarms.flatMap((alarm) => (alarm === null ? [] : (how(alarm, at) ?? [])))
      if (steps.length === 0) return alarms
      const saved = await garden.saveAlarms(steps)
      deps.onAlarms(saved)
      await awaitShelf()
      return alarms.map((alarm) => saved.find(({ id }) => id === alarm?.id) ?? alarm)
    })
  }

  const sweep = setInterval(() => {
    everyBed = true
    schedule()
  }, SWEEP_MS)
  schedule()

  return {
    touch(bedIds, from) {
      if (bedIds === undefined) everyBed = true
      else for (const id of bedIds) waiting.add(id)
      for (const id of bedIds ?? []) {
        studies.outdated(id)
        if (from !== undefined) fold.changed(id, from)
      }
      if (bedIds === undefined && from !== undefined) allFrom = Math.min(allFrom, from)
      schedule()
    },
    touchProbes(probes, from) {
      for (const id of probes) probesWaiting.set(id, Math.min(from, probesWaiting.get(id) ?? from))
      schedule()
    },
    latest: (bedId) => latest.get(bedId) ?? null,
    events: (bedId) => fold.events(bedId),
    acknowledge: async (alarmId) =>
      (await operate([alarmId], (alarm, at) => acknowledge(alarm, at, { by: null })))[0]!,
    operate,
    spotRenamed: (bedId, was, name) =>
      enqueue(async () => {
        const named = (await garden.openAlarms()).filter(
          ({ bedId: id, evidence: e }) =>
            id === bedId && [...e.spotsMoved, ...e.spotsSteady].includes(was),
        )
        if (named.length === 0) return
        const renamed = (spots: readonly string[]): string[] =>
          spots.map((spot) => (spot === was ? name : spot))
        const saved = await garden.saveAlarms(
          named.map((alarm) => ({
            alarm: {
              ...alarm,
              evidence: {
                ...alarm.evidence,
                spotsMoved: renamed(alarm.evidence.spotsMoved),
                spotsSteady: renamed(alarm.evidence.spotsSteady),
              },
            },
            at: clock(),
            what: null,
            by: null,
            note: '',
          })),
        )
        deps.onAlarms(saved)
      }),
    sayAnew() {
      studies.allOutdated()
      everyBed = true
      schedule()
    },
    state: () => ({ lastAt, problem, rounds }),
    hold() {
      held = true
      clearTimeout(timer)
      timer = undefined
    },
    release() {
      held = false
      everyBed = true
      schedule()
    },
    async stop() {
      stopped = true
      clearInterval(sweep)
      clearTimeout(timer)
      clearTimeout(shelfTimer)
      await chain
    },
  }
}
