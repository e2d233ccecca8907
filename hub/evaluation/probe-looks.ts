import type { ProbeLook } from '../alerts/probe-look.ts'
import { lowBelow } from '../analysis/quality/low-supply.ts'
import { WIRE } from '../analysis/quality/wire-flags.ts'
import { HOUR, SECOND } from '../model/clock.ts'
import type { BedFeeds } from '../model/feed.ts'
import { type Calibration, holdsAt } from '../model/probe.ts'
import type { GardenStore } from '../store/garden-store.ts'
import { latestUntil } from '../store/latest-until.ts'
import type { ReadingStore } from '../store/reading-store.ts'

/** What a probe that never said how often it measures is taken to do. */
const USUAL_INTERVAL_MS = HOUR
/** Newest readings that are asked for what they say of the supply. */
const SUPPLY_READINGS = 3

type Supply = ProbeLook['supply']
const NO_SUPPLY: Supply = { levels: [], unit: 'V', lowBelow: NaN, told: [] }

/**
 * Levels of the supply of every probe of a bed: the newest ones, and where low begins by the days of its battery.
 *
 * @param days see `SupplyDays`; a probe that is not old enough to have any is judged by its hours
 */
export function suppliesOf(
  hourly: BedFeeds,
  recent: BedFeeds,
  days: ReadonlyMap<string, readonly number[]>,
): ReadonlyMap<string, Omit<Supply, 'told'>> {
  const out = new Map<string, Omit<Supply, 'told'>>()
  for (const { probe, channels } of recent.feeds) {
    const own = channels.find(({ channel }) => channel.senses === 'bat')
    if (own === undefined) continue
    const { time, median } = own.buckets
    const newestFirst = Array.from(time.keys())
      .toSorted((a, b) => time[b]! - time[a]!)
      .flatMap((row) => (Number.isNaN(median[row]) ? [] : median[row]!))
    const ofDays = days.get(probe) ?? []
    const ofHours = hourly.feeds
      .filter((feed) => feed.probe === probe)
      .flatMap((feed) => feed.channels.filter(({ channel }) => channel.senses === 'bat'))
      .flatMap(({ buckets }) => Array.from(buckets.median))
    const { unit } = own.channel
    out.set(probe, {
      levels: newestFirst.slice(0, SUPPLY_READINGS),
      unit: unit.startsWith('%') ? '%' : 'V',
      lowBelow: lowBelow(unit, ofDays.length > 0 ? ofDays : ofHours),
    })
  }
  return out
}

/**
 * What can be said of every adopted probe now.
 *
 * @param supplies of each probe, as far as its bed was looked at
 * @param listeningSince see `ProbeLook`
 */
export async function probeLooks(
  { garden, readings }: { readonly garden: GardenStore; readonly readings: ReadingStore },
  supplies: ReadonlyMap<string, Omit<Supply, 'told'>>,
  listeningSince: number | null,
  at: number,
): Promise<readonly ProbeLook[]> {
  const [probes, placements, spots, beds, calibrations, latest] = await Promise.all([
    garden.probes(),
    garden.placements(),
    garden.spots(),
    garden.beds(),
    garden.calibrations(),
    latestUntil(readings, at),
  ])
  const spotOf = new Map(spots.map((spot) => [spot.id, spot]))
  const bedOf = new Map(beds.map((bed) => [bed.id, bed]))
  const lastOf = new Map<string, number>()
  for (const { probe, at: measured } of latest) {
    if (measured <= at) lastOf.set(probe, Math.max(measured, lastOf.get(probe) ?? -Infinity))
  }
  const calibratedAt = newestElectrode(calibrations, at)
  const adopted = probes.filter((probe) => probe.adoptedAt !== null)
  return Promise.all(
    adopted.map(async (probe): Promise<ProbeLook> => {
      const placement = placements.find((p) => p.probe === probe.id && holdsAt(p, at))
      const spot = placement === undefined ? undefined : spotOf.get(placement.spotId)
      const bed = spot === undefined ? undefined : bedOf.get(spot.bedId)
      const last = lastOf.get(probe.id) ?? null
      const supply = supplies.get(probe.id)
      const newest = bed === undefined ? [] : await readings.newest(probe.id, SUPPLY_READINGS)
      return {
        at,
        bedId: bed?.id ?? null,
        bed: bed?.name ?? '',
        spot: spot?.name ?? '',
        probe: probe.id,
        name: probe.name,
        lastAt: last !== null && last >= (placement?.from ?? -Infinity) ? last : null,
        placedAt: placement?.from ?? at,
        intervalMs: probe.intervalS === null ? USUAL_INTERVAL_MS : probe.intervalS * SECOND,
        backAt: probe.state === 'sleep' ? probe.expectedAt : null,
        listeningSince,
        supply: {
          ...(supply ?? NO_SUPPLY),
          told: newest.map(({ flags }) => (flags & WIRE.supplyLow) !== 0),
        },
        calibratedAt: calibratedAt.get(probe.id) ?? null,
      }
    }),
  )
}

function newestElectrode(calibrations: readonly Calibration[], at: number): Map<string, number> {
  const out = new Map<string, number>()
  for (const c of calibrations) {
    if (c.kind === 'electrode' && c.at <= at) {
      out.set(c.probe, Math.max(c.at, out.get(c.probe) ?? -Infinity))
    }
  }
  return out
}
