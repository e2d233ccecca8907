/** Requirements classes of OGC 18-088 by their names in its clauses 8 and 9 (spelling of the URIs from memory). */
const ROOT = 'http://www.opengis.net/spec/iot_sensing/1.1/req'

/**
 * What this interface meets in full; held to the standard's own examples by `tests/hub/sensorthings`. Left out on
 * purpose: creating, changing and deleting, batches, MultiDatastreams, data arrays, MQTT of the standard, and the
 * built-in query functions.
 */
export const CONFORMANCE: readonly string[] = [
  'datamodel/entity-control-information/common-control-information',
  'datamodel/thing/properties',
  'datamodel/thing/relations',
  'datamodel/location/properties',
  'datamodel/location/relations',
  'datamodel/historical-location/properties',
  'datamodel/historical-location/relations',
  'datamodel/datastream/properties',
  'datamodel/datastream/relations',
  'datamodel/sensor/properties',
  'datamodel/sensor/relations',
  'datamodel/observed-property/properties',
  'datamodel/observed-property/relations',
  'datamodel/observation/properties',
  'datamodel/observation/relations',
  'datamodel/feature-of-interest/properties',
  'datamodel/feature-of-interest/relations',
  'resource-path/resource-path-to-entities',
  'request-data/order',
  'request-data/expand',
  'request-data/select',
  'request-data/status-code',
  'request-data/query-status-code',
  'request-data/orderby',
  'request-data/top',
  'request-data/skip',
  'request-data/count',
  'request-data/built-in-filter-operations',
  'request-data/pagination',
].map((name) => `${ROOT}/${name}`)
