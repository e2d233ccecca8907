import { DAY, HOUR } from '../model/clock.ts'
import { ago } from './ago.ts'
import type { Fault } from './faults.ts'
import { seededRandom } from './random.ts'
import type { ScenarioBed, ScenarioProbe } from './scenario.ts'

/** Which probe sits where, since how many days when not from the start of its bed. */
const SEATS: readonly {
  id: string
  name: string
  bed: string
  spots: readonly { spot: string; days?: number }[]
  days?: number
}[] = [
  { id: 'kettle1', name: 'Kettle 1', bed: 'kettle', spots: [{ spot: 'kettle north' }] },
  { id: 'kettle2', name: 'Kettle 2', bed: 'kettle', spots: [{ spot: 'kettle middle' }] },
  { id: 'kettle3', name: 'Kettle 3', bed: 'kettle', spots: [{ spot: 'kettle south' }], days: 302 },
  { id: 'bramble1', name: 'Bramble 1', bed: 'bramble', spots: [{ spot: 'bramble wall' }] },
  { id: 'bramble2', name: 'Bramble 2', bed: 'bramble', spots: [{ spot: 'bramble path' }] },
  { id: 'moss1', name: 'Moss 1', bed: 'moss', spots: [{ spot: 'moss fern' }] },
  { id: 'moss2', name: 'Moss 2', bed: 'moss', spots: [{ spot: 'moss stone' }] },
  { id: 'moss3', name: 'Moss 3', bed: 'moss', spots: [{ spot: 'moss back' }] },
  { id: 'heron1', name: 'Heron 1', bed: 'heron', spots: [{ spot: 'heron east' }] },
  { id: 'heron2', name: 'Heron 2', bed: 'heron', spots: [{ spot: 'heron middle' }] },
  { id: 'heron3', name: 'Heron 3', bed: 'heron', spots: [{ spot: 'heron west' }], days: 431 },
  { id: 'lantern1', name: 'Lantern 1', bed: 'lantern', spots: [{ spot: 'lantern gate' }] },
  { id: 'lantern2', name: 'Lantern 2', bed: 'lantern', spots: [{ spot: 'lantern hedge' }] },
  { id: 'cricket1', name: 'Cricket 1', bed: 'cricket', spots: [{ spot: 'cricket upper' }] },
  { id: 'cricket2', name: 'Cricket 2', bed: 'cricket', spots: [{ spot: 'cricket lower' }] },
  { id: 'drizzle1', name: 'Drizzle 1', bed: 'drizzle', spots: [{ spot: 'drizzle butt' }] },
  {
    id: 'drizzle2',
    name: 'Drizzle 2',
    bed: 'drizzle',
    spots: [{ spot: 'drizzle path' }, { spot: 'drizzle arch', days: 121 }],
  },
  { id: 'drizzle3', name: 'Drizzle 3', bed: 'drizzle', spots: [{ spot: 'drizzle frame' }] },
  { id: 'ledge1', name: 'Ledge 1', bed: 'ledge', spots: [{ spot: 'ledge only' }] },
]

/** The last round of services lies this far back; they come every `SERVICE_EVERY` days. */
const LAST_SERVICE_DAYS = 40
const SERVICE_EVERY_DAYS = 74
const HUB_AWAY_DAYS = 212

function faultsOf(now: number): Readonly<Record<string, readonly Fault[]>> {
  const span = (days: number, hours: number): { from: number; to: number } => {
    const from = ago(now, days, 14)
    return { from, to: from + hours * HOUR }
  }
  return {
    bramble1: [{ kind: 'drift', ...span(206, 91 * 24), phPer30d: 0.24 }],
    heron2: [{ kind: 'outage', ...span(96, 6 * 24), hubAway: false }],
    kettle2: [{ kind: 'flat line', ...span(57, 5 * 24) }],
    lantern2: [{ kind: 'outage', ...span(12, 5), hubAway: false }],
    moss3: [{ kind: 'no power', ...span(151, 67) }],
    // A cracked junction: it will read about 0.9 too high until somebody changes the electrode.
    drizzle3: [{ kind: 'step', from: ago(now, 4, 15), to: Infinity, changePh: 0.9 }],
  }
}

/** Probes of the demo garden, and one that nobody has taken in yet. */
export function demoProbes(
  seed: number,
  now: number,
  start: number,
  beds: readonly ScenarioBed[],
): readonly ScenarioProbe[] {
  const random = seededRandom(seed).split('electrodes')
  const faults = faultsOf(now)
  const hubAwayFrom = ago(now, HUB_AWAY_DAYS, 18)
  const hubAway: Fault = {
    kind: 'outage',
    from: hubAwayFrom,
    to: hubAwayFrom + 31 * HOUR,
    hubAway: true,
  }
  const made = (
    id: string,
    from: number,
  ): Omit<ScenarioProbe, 'name' | 'adopted' | 'placements'> => {
    const own = random.split(id)
    return {
      id,
      from,
      depthM: 0.15,
      electrode: {
        zeroMv: Math.max(-14, Math.min(14, own.normal(0, 6))),
        slopeShare: own.between(0.962, 0.998),
        slopeLossPerYear: own.between(0.008, 0.028),
        driftPh: 0.025,
        driftSpreadPh: 0.02,
        temperaturePhPerC: own.normal(0, 0.004),
      },
      moisture: {
        dryCounts: Math.round(own.between(2950, 3250)),
        wetCounts: Math.round(own.between(1250, 1500)),
        countsPerC: own.normal(0, 1.2),
      },
      services: [],
      faults: [],
      buffer: 96,
      clockError: own.normal(0, 0.002),
    }
  }
  const seated = SEATS.map((seat): ScenarioProbe => {
    const bed = beds.findIndex((one) => one.key === seat.bed)
    const from = seat.days === undefined ? (beds[bed]?.madeAt ?? start) : ago(now, seat.days, 10)
    // Not all wake in the same minute.
    const begin = from + random.split(`begin ${seat.id}`).between(0, 58 * 60) * 1000
    const services: number[] = []
    const round = LAST_SERVICE_DAYS + bed
    for (let days = round; ago(now, days) > from + 20 * DAY; days += SERVICE_EVERY_DAYS) {
      services.unshift(ago(now, days, 9 + (Number(seat.id.at(-1)) - 1)))
    }
    const own = faults[seat.id] ?? []
    return {
      ...made(seat.id, Math.round(begin)),
      name: seat.name,
      adopted: true,
      placements: seat.spots.map(({ spot, days }) => ({
        spot,
        from: days === undefined ? Math.round(begin) : ago(now, days, 11),
      })),
      services,
      faults: begin < hubAwayFrom ? [...own, hubAway] : own,
    }
  })
  return [...seated, { ...made('magpie1', now), name: 'magpie1', adopted: false, placements: [] }]
}
