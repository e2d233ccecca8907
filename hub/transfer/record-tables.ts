import type { GardenStore } from '../store/garden-store.ts'
import { alarmSaid } from '../words/alarm-said.ts'
import type { Cell } from './csv-lines.ts'
import { csvLines } from './csv-lines.ts'
import { isoWriter } from './iso-time.ts'

export const RECORD_TABLES = [
  'journal',
  'beds',
  'probes',
  'placements',
  'calibrations',
  'soil-tests',
  'plans',
  'alarms',
] as const
export type RecordTable = (typeof RECORD_TABLES)[number]

/** Alarms of many years; the newest of them. */
const MOST_ALARMS = 100_000

type Table = readonly (readonly Cell[])[]
type Iso = (at: number | null) => string | null
type Names = ReadonlyMap<number, string>

/** One kind of the garden's records as CSV: headings with their units, times as ISO 8601 in the garden's zone. */
export async function recordTable(garden: GardenStore, table: RecordTable): Promise<string> {
  const { zone } = await garden.garden()
  const write = isoWriter(zone)
  const iso: Iso = (at) => (at === null ? null : write(Math.round(at)))
  return csvLines(await rowsOf(garden, table, iso), true)
}

async function bedNames(garden: GardenStore): Promise<Names> {
  return new Map((await garden.beds({ retired: true })).map(({ id, name }) => [id, name]))
}

async function rowsOf(garden: GardenStore, table: RecordTable, iso: Iso): Promise<Table> {
  const beds = await bedNames(garden)
  const bed = (id: number): string => beds.get(id) ?? `bed ${id}`
  switch (table) {
    case 'journal':
      return journalRows(garden, bed, iso)
    case 'beds':
      return bedRows(garden, iso)
    case 'probes':
      return probeRows(garden, iso)
    case 'placements':
      return placementRows(garden, bed, iso)
    case 'calibrations':
      return calibrationRows(garden, iso)
    case 'soil-tests':
      return [
        ['id', 'time (ISO 8601)', 'bed', 'kind', 'figures (JSON)', 'text'],
        ...(await garden.soilTests()).map(({ id, bedId, at, text, kind, ...figures }) => [
          id,
          iso(at),
          bed(bedId),
          kind,
          JSON.stringify(figures),
          text,
        ]),
      ]
    case 'plans':
      return planRows(garden, bed, iso)
    case 'alarms':
      return [
        [
          'raised (ISO 8601)',
          'bed',
          'kind',
          'subject',
          'state',
          'acknowledged',
          'returned',
          'text',
        ],
        ...(await garden.alarms(MOST_ALARMS)).map((a) => [
          iso(a.raisedAt),
          a.bedId === null ? '' : bed(a.bedId),
          a.kind,
          a.subject,
          a.state,
          iso(a.acknowledgedAt),
          iso(a.returnedAt),
          alarmSaid(a).sentence,
        ]),
      ]
  }
}

type BedName = (id: number) => string

async function journalRows(garden: GardenStore, bed: BedName, iso: Iso): Promise<Table> {
  return [
    [
      'time (ISO 8601)',
      'bed',
      'kind',
      'material',
      'amount on the bed (g)',
      'water on the bed (L)',
      'probe',
      'pH',
      'method',
      'text',
    ],
    ...(await garden.journal({})).map((e) => [
      iso(e.at),
      bed(e.bedId),
      e.kind,
      e.material,
      e.amountG,
      e.waterL,
      e.probe,
      e.ph,
      e.method,
      e.text,
    ]),
  ]
}

async function bedRows(garden: GardenStore, iso: Iso): Promise<Table> {
  const spots = await garden.spots()
  return [
    [
      'bed',
      'area (m2)',
      'depth (m)',
      'texture',
      'crops',
      'own band from (pH)',
      'own band to (pH)',
      'spots',
      'made (ISO 8601)',
      'taken out of use',
    ],
    ...(await garden.beds({ retired: true })).map((b) => [
      b.name,
      b.areaM2,
      b.depthM,
      b.texture,
      b.crops.join('; '),
      b.ownBand?.low ?? null,
      b.ownBand?.high ?? null,
      spots
        .filter(({ bedId }) => bedId === b.id)
        .map(({ name }) => name)
        .join('; '),
      iso(b.createdAt),
      iso(b.retiredAt),
    ]),
  ]
}

async function probeRows(garden: GardenStore, iso: Iso): Promise<Table> {
  const channels = await garden.channels()
  const head = ['probe', 'name', 'taken in (ISO 8601)', 'first seen', 'last seen', 'firmware']
  return [
    [...head, 'channel', 'senses', 'unit', 'depth (m)'],
    ...(await garden.probes()).flatMap((p) => {
      const own = [
        p.id,
        p.name,
        iso(p.adoptedAt),
        iso(p.firstSeenAt),
        iso(p.lastSeenAt),
        p.firmware,
      ]
      const of = channels.filter(({ probe }) => probe === p.id)
      return of.length === 0
        ? [[...own, null, null, null, null]]
        : of.map((c) => [...own, c.name, c.senses, c.unit, c.depthM])
    }),
  ]
}

async function placementRows(garden: GardenStore, bed: BedName, iso: Iso): Promise<Table> {
  const spots = new Map((await garden.spots()).map((spot) => [spot.id, spot]))
  return [
    ['probe', 'bed', 'spot', 'from (ISO 8601)', 'to (ISO 8601)'],
    ...(await garden.placements()).map((p) => {
      const spot = spots.get(p.spotId)
      return [
        p.probe,
        spot === undefined ? null : bed(spot.bedId),
        spot?.name ?? null,
        iso(p.from),
        iso(p.to),
      ]
    }),
  ]
}

async function calibrationRows(garden: GardenStore, iso: Iso): Promise<Table> {
  const points = [0, 1, 2]
  return [
    [
      'in force from (ISO 8601)',
      'probe',
      'channel',
      'kind',
      ...points.flatMap((i) => [`buffer ${i + 1} (pH)`, `EMF in it (mV)`]),
      'temperature (Cel)',
      'dry (raw)',
      'wet (raw)',
      'note',
    ],
    ...(await garden.calibrations()).map((c) => [
      iso(c.at),
      c.probe,
      c.channel,
      c.kind,
      ...points.flatMap((i) => {
        const point = c.kind === 'electrode' ? c.points[i] : undefined
        return [point?.ph ?? null, point?.emfMv ?? null]
      }),
      c.kind === 'electrode' ? c.temperatureC : null,
      c.kind === 'moisture' ? c.dryRaw : null,
      c.kind === 'moisture' ? c.wetRaw : null,
      c.note,
    ]),
  ]
}

async function planRows(garden: GardenStore, bed: BedName, iso: Iso): Promise<Table> {
  return [
    [
      'bed',
      'made (ISO 8601)',
      'material',
      'from (pH)',
      'aim (pH)',
      'portion',
      'due (ISO 8601)',
      'amount on the bed (g)',
      'done',
      'closed (ISO 8601)',
      'ending',
    ],
    ...(await garden.plans()).flatMap((plan) =>
      plan.stages.map((stage, i) => [
        bed(plan.bedId),
        iso(plan.createdAt),
        plan.material,
        plan.fromPh,
        plan.targetPh,
        i + 1,
        iso(stage.dueAt),
        stage.amountG,
        stage.entryId === null ? 'no' : 'yes',
        iso(plan.closedAt),
        plan.ending,
      ]),
    ),
  ]
}
