/** The entity types of OGC SensorThings API 1.1 (OGC 18-088, clause 8), sensing part. */
export type EntityType =
  | 'Thing'
  | 'Location'
  | 'HistoricalLocation'
  | 'Datastream'
  | 'Sensor'
  | 'ObservedProperty'
  | 'Observation'
  | 'FeatureOfInterest'

export type EntityId = string | number

/** One entity: its id and its own properties, as they stand in JSON. */
export interface Entity {
  readonly type: EntityType
  readonly id: EntityId
  readonly properties: Readonly<Record<string, unknown>>
}

export interface Relation {
  readonly to: EntityType
  readonly many: boolean
}

/** Name of the collection of each type in an address. */
export const COLLECTIONS = {
  Things: 'Thing',
  Locations: 'Location',
  HistoricalLocations: 'HistoricalLocation',
  Datastreams: 'Datastream',
  Sensors: 'Sensor',
  ObservedProperties: 'ObservedProperty',
  Observations: 'Observation',
  FeaturesOfInterest: 'FeatureOfInterest',
} as const satisfies Readonly<Record<string, EntityType>>
export type CollectionName = keyof typeof COLLECTIONS

const many = (to: EntityType): Relation => ({ to, many: true })
const one = (to: EntityType): Relation => ({ to, many: false })

/** Asked by names out of addresses: 'constructor' must be none of them. */
const byName = (
  relations: Readonly<Record<string, Relation>>,
): Readonly<Record<string, Relation>> =>
  Object.assign(Object.create(null) as Record<string, Relation>, relations)

/** Navigation properties, OGC 18-088 figure 2 and the tables of relations in clause 8.2. */
export const RELATIONS: Readonly<Record<EntityType, Readonly<Record<string, Relation>>>> = {
  Thing: byName({
    Locations: many('Location'),
    HistoricalLocations: many('HistoricalLocation'),
    Datastreams: many('Datastream'),
  }),
  Location: byName({
    Things: many('Thing'),
    HistoricalLocations: many('HistoricalLocation'),
  }),
  HistoricalLocation: byName({ Thing: one('Thing'), Locations: many('Location') }),
  Datastream: byName({
    Thing: one('Thing'),
    Sensor: one('Sensor'),
    ObservedProperty: one('ObservedProperty'),
    Observations: many('Observation'),
  }),
  Sensor: byName({ Datastreams: many('Datastream') }),
  ObservedProperty: byName({ Datastreams: many('Datastream') }),
  Observation: byName({
    Datastream: one('Datastream'),
    FeatureOfInterest: one('FeatureOfInterest'),
  }),
  FeatureOfInterest: byName({ Observations: many('Observation') }),
}

/** Properties that an entity may have, whether it has them or not. */
export const PROPERTIES: Readonly<Record<EntityType, readonly string[]>> = {
  Thing: ['name', 'description', 'properties'],
  Location: ['name', 'description', 'encodingType', 'location', 'properties'],
  HistoricalLocation: ['time'],
  Datastream: [
    'name',
    'description',
    'observationType',
    'unitOfMeasurement',
    'observedArea',
    'phenomenonTime',
    'resultTime',
    'properties',
  ],
  Sensor: ['name', 'description', 'encodingType', 'metadata', 'properties'],
  ObservedProperty: ['name', 'definition', 'description', 'properties'],
  Observation: [
    'phenomenonTime',
    'resultTime',
    'result',
    'resultQuality',
    'validTime',
    'parameters',
  ],
  FeatureOfInterest: ['name', 'description', 'encodingType', 'feature', 'properties'],
}

export const collectionOf = (type: EntityType): CollectionName => {
  const found = (Object.entries(COLLECTIONS) as [CollectionName, EntityType][]).find(
    ([, of]) => of === type,
  )
  if (found === undefined) throw new TypeError(`no collection of ${type}`)
  return found[0]
}

/** An id as it stands in an address: numbers bare, texts in quotes (OData 4.01 URL conventions). */
export const idInPath = (id: EntityId): string =>
  typeof id === 'number' ? String(id) : `'${encodeURIComponent(id).replaceAll("'", "''")}'`
