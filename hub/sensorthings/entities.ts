import type { Quantity, Sensed } from '../model/quantity.ts'
import type { Entity, EntityId, EntityType } from './data-model.ts'
import { type GardenRecords, spotAt, type Stream, streamsOf } from './streams.ts'
import { unitOf } from './units.ts'

/** All entities but the observations, and how they hang together. */
export interface Entities {
  readonly records: GardenRecords
  readonly streams: readonly Stream[]
  all(type: EntityType): readonly Entity[]
  find(type: EntityType, id: EntityId): Entity | null
  /** Entities at the end of a navigation property; of an observation its Datastream and FeatureOfInterest. */
  related(entity: Entity, name: string): readonly Entity[]
}

type ObservedId = Sensed | `soil-${Quantity}`

/** What is observed, in words; the page /interfaces of the hub says the same under the same names. */
const OBSERVED: Readonly<Record<ObservedId, readonly [name: string, description: string]>> = {
  'soil-ph': ['Soil pH', 'pH of the soil, by the calibration in force at that time'],
  'soil-moisture': [
    'Soil moisture',
    'Water in the soil: by volume, or as a share of the range of the probe; each observation says which',
  ],
  'soil-temperature': ['Soil temperature', 'Temperature of the soil'],
  ph: ['pH as sent', 'pH that the probe itself worked out'],
  'ph.emf': ['Electrode EMF', 'Voltage of the pH electrode against its reference'],
  vwc: ['Water content as sent', 'Volumetric water content that the probe itself worked out'],
  'moist.raw': ['Moisture counts', 'Raw counts of a capacitive moisture probe'],
  permittivity: ['Permittivity', 'Relative permittivity of the soil'],
  'temp.soil': ['Soil temperature as sent', 'Temperature of the soil at the probe'],
  'temp.air': ['Air temperature', 'Temperature of the air at the probe'],
  'rh.air': ['Air humidity', 'Relative humidity of the air at the probe'],
  ec: ['Electrical conductivity', 'Electrical conductivity of the soil'],
  tension: ['Soil water tension', 'Tension with which the soil holds its water'],
  bat: ['Supply voltage', 'Voltage of the battery or supply of the probe'],
  rssi: ['Signal strength', 'Strength of the radio signal at the probe'],
  other: ['Other', 'Something a probe measures that has no name here'],
}

const MEASUREMENT = 'http://www.opengis.net/def/observationType/OGC-OM/2.0/OM_Measurement'
/** Of a moisture of unknown kind too: a share is a ratio either way. */
const MADE_UNIT: Readonly<Record<Quantity, string>> = {
  ph: 'pH',
  moisture: '/',
  temperature: 'Cel',
}
const QUANTITY_WORDS: Readonly<Record<Quantity, string>> = {
  ph: 'soil pH',
  moisture: 'soil moisture',
  temperature: 'soil temperature',
}

const iso = (at: number): string => new Date(at).toISOString()

const observedOf = (stream: Stream): ObservedId =>
  stream.kind === 'sent' ? stream.channel.senses : `soil-${stream.quantity}`

function without<T extends object>(object: T): Partial<T> {
  return Object.fromEntries(
    Object.entries(object).filter(([, value]) => value !== null && value !== undefined),
  ) as Partial<T>
}

/** A place without coordinates: an unlocated feature, RFC 7946 section 3.2. */
const unlocated = (properties: Readonly<Record<string, unknown>>) => ({
  type: 'Feature',
  geometry: null,
  properties,
})

/** @param site address of the hub, for links to its pages */
export function entitiesOf(records: GardenRecords, site: string): Entities {
  const streams = streamsOf(records)
  const probes = records.probes.filter(({ adoptedAt }) => adoptedAt !== null)
  const own = new Set(probes.map(({ id }) => id))
  const bedOf = new Map(records.beds.map((bed) => [bed.id, bed]))
  const spotOf = new Map(records.spots.map((spot) => [spot.id, spot]))
  const placements = records.placements.filter(({ probe }) => own.has(probe))
  const streamOf = new Map(streams.map((stream) => [stream.id, stream]))
  const nameOfSpot = (id: number): string => {
    const spot = spotOf.get(id)
    return spot === undefined
      ? 'Not in a bed'
      : `${bedOf.get(spot.bedId)?.name ?? ''}, ${spot.name}`
  }

  const things = probes.map((probe): Entity => ({
    type: 'Thing',
    id: probe.id,
    properties: {
      name: probe.name,
      description: 'A probe in the soil of a raised bed',
      properties: without({
        state: probe.state,
        firmware: probe.firmware,
        hardware: probe.hardware,
        intervalS: probe.intervalS,
        firstSeen: iso(probe.firstSeenAt),
        lastSeen: iso(probe.lastSeenAt),
      }),
    },
  }))
  const locations = records.spots.map((spot): Entity => {
    const bed = bedOf.get(spot.bedId)
    return {
      type: 'Location',
      id: spot.id,
      properties: {
        name: nameOfSpot(spot.id),
        description: `The spot '${spot.name}' in the bed '${bed?.name ?? ''}'`,
        encodingType: 'application/geo+json',
        location: unlocated({ bed: bed?.name ?? '', spot: spot.name }),
        properties: { bedId: spot.bedId },
      },
    }
  })
  const history = placements.map((placement): Entity => ({
    type: 'HistoricalLocation',
    id: placement.id,
    properties: { time: iso(placement.from) },
  }))
  const datastreams = streams.map((stream): Entity => {
    const { probe } = stream
    const common = { observationType: MEASUREMENT }
    if (stream.kind === 'sent') {
      const { channel } = stream
      return {
        type: 'Datastream',
        id: stream.id,
        properties: {
          name: `${probe.name}: ${channel.name}`,
          description: `${OBSERVED[channel.senses][0]} as ${probe.name} sent it`,
          ...common,
          unitOfMeasurement: unitOf(channel.unit),
          properties: without({
            kind: 'sent',
            channel: channel.name,
            low: channel.low,
            high: channel.high,
            resolution: channel.resolution,
            depthM: channel.depthM,
          }),
        },
      }
    }
    return {
      type: 'Datastream',
      id: stream.id,
      properties: {
        name: `${probe.name}: ${QUANTITY_WORDS[stream.quantity]}`,
        description: `What the hub makes of what ${probe.name} sent, by its calibrations`,
        ...common,
        unitOfMeasurement: unitOf(MADE_UNIT[stream.quantity]),
        properties: { kind: 'made', madeOf: stream.channels.map(({ name }) => name) },
      },
    }
  })
  const sensors = streams.map((stream): Entity => {
    const channel = stream.kind === 'sent' ? stream.channel.name : `soil ${stream.quantity}`
    return {
      type: 'Sensor',
      id: stream.id,
      properties: {
        name: `${stream.probe.name}, ${channel}`,
        description:
          stream.kind === 'sent'
            ? `Channel ${channel} of the probe ${stream.probe.id}`
            : `Conversion of the hub, with the dated calibrations of ${stream.probe.id}`,
        encodingType: 'text/html',
        metadata: `${site}/probe/${stream.probe.id}`,
      },
    }
  })
  const observed = [...new Set(streams.map(observedOf))].toSorted().map((id): Entity => {
    const [name, description] = OBSERVED[id]
    return {
      type: 'ObservedProperty',
      id,
      properties: { name, definition: `${site}/interfaces#${id}`, description },
    }
  })
  const feature = (id: number): Entity => {
    const spot = spotOf.get(id)
    const bed = spot === undefined ? undefined : bedOf.get(spot.bedId)
    return {
      type: 'FeatureOfInterest',
      id,
      properties: {
        name: spot === undefined ? 'Not in a bed' : `Soil of ${nameOfSpot(id)}`,
        description:
          bed === undefined
            ? 'Wherever a probe was while it was in no bed'
            : `Soil around a probe, ${bed.texture}, worked ${bed.depthM} m deep`,
        encodingType: 'application/geo+json',
        feature: unlocated(bed === undefined ? {} : { bed: bed.name, spot: spot?.name ?? '' }),
      },
    }
  }
  const features = [0, ...records.spots.map(({ id }) => id)].map(feature)

  const lists: Readonly<Record<EntityType, readonly Entity[]>> = {
    Thing: things,
    Location: locations,
    HistoricalLocation: history,
    Datastream: datastreams,
    Sensor: sensors,
    ObservedProperty: observed,
    Observation: [],
    FeatureOfInterest: features,
  }
  const byId = new Map(
    Object.values(lists)
      .flat()
      .map((entity) => [`${entity.type}/${typeof entity.id}/${entity.id}`, entity]),
  )
  const find = (type: EntityType, id: EntityId): Entity | null =>
    byId.get(`${type}/${typeof id}/${id}`) ?? null
  const found = (type: EntityType, ids: readonly EntityId[]): readonly Entity[] =>
    ids.flatMap((id) => find(type, id) ?? [])
  const streamsWhere = (test: (stream: Stream) => boolean): readonly Entity[] =>
    found(
      'Datastream',
      streams.filter(test).map(({ id }) => id),
    )

  /** Placements that hold now have no end. */
  const standing = placements.filter(({ to }) => to === null)
  function related(entity: Entity, name: string): readonly Entity[] {
    const { id } = entity
    switch (`${entity.type}/${name}`) {
      case 'Thing/Locations':
        return found(
          'Location',
          standing.filter((p) => p.probe === id).map(({ spotId }) => spotId),
        )
      case 'Thing/HistoricalLocations':
        return found(
          'HistoricalLocation',
          placements.filter((p) => p.probe === id).map((p) => p.id),
        )
      case 'Thing/Datastreams':
        return streamsWhere(({ probe }) => probe.id === id)
      case 'Location/Things':
        return found(
          'Thing',
          standing.filter((p) => p.spotId === id).map(({ probe }) => probe),
        )
      case 'Location/HistoricalLocations':
        return found(
          'HistoricalLocation',
          placements.filter((p) => p.spotId === id).map((p) => p.id),
        )
      case 'HistoricalLocation/Thing':
        return found(
          'Thing',
          placements.filter((p) => p.id === id).map(({ probe }) => probe),
        )
      case 'HistoricalLocation/Locations':
        return found(
          'Location',
          placements.filter((p) => p.id === id).map(({ spotId }) => spotId),
        )
      case 'Datastream/Thing':
        return found('Thing', [streamOf.get(String(id))?.probe.id ?? ''])
      case 'Datastream/Sensor':
        return found('Sensor', [id])
      case 'Datastream/ObservedProperty': {
        const stream = streamOf.get(String(id))
        return stream === undefined ? [] : found('ObservedProperty', [observedOf(stream)])
      }
      case 'Sensor/Datastreams':
        return found('Datastream', [id])
      case 'ObservedProperty/Datastreams':
        return streamsWhere((stream) => observedOf(stream) === id)
      case 'Observation/Datastream':
        return found('Datastream', [observationName(id)?.stream ?? ''])
      case 'Observation/FeatureOfInterest': {
        const named = observationName(id)
        const stream = named === null ? undefined : streamOf.get(named.stream)
        return named === null || stream === undefined
          ? []
          : found('FeatureOfInterest', [spotAt(placements, stream.probe.id, named.at)])
      }
      default:
        throw new TypeError(`${entity.type} has no ${name} that is kept here`)
    }
  }
  return { records: { ...records, placements }, streams, all: (type) => lists[type], find, related }
}

/** The series and the moment (epoch ms) that an observation's id names; null when it names none. */
export function observationName(
  id: EntityId,
): { readonly stream: string; readonly at: number } | null {
  const found = /^(.+):(\d{1,16})$/.exec(String(id))
  return found === null ? null : { stream: found[1]!, at: Number(found[2]) }
}
