/** Unit of measurement of a Datastream, OGC 18-088 table 12: its values should follow UCUM. */
export interface UnitOfMeasurement {
  readonly name: string | null
  readonly symbol: string | null
  /** UCUM code behind `ucum:`; null where UCUM has none. */
  readonly definition: string | null
}

const unit = (name: string, symbol: string, ucum: string): UnitOfMeasurement => ({
  name,
  symbol,
  definition: `ucum:${ucum}`,
})

/**
 * Units of the wire format (SenML names, RFC 8428 section 12.1, and our own `count`) by their UCUM codes
 * (The Unified Code for Units of Measure 2.1, tables 4 to 7; codes from memory).
 */
const BY_WIRE: Readonly<Record<string, UnitOfMeasurement>> = {
  mV: unit('millivolt', 'mV', 'mV'),
  V: unit('volt', 'V', 'V'),
  uV: unit('microvolt', 'µV', 'uV'),
  Cel: unit('degree Celsius', '°C', 'Cel'),
  K: unit('kelvin', 'K', 'K'),
  degF: unit('degree Fahrenheit', '°F', '[degF]'),
  pH: unit('pH', 'pH', '[pH]'),
  '/': unit('ratio', '1', '1'),
  '%': unit('per cent', '%', '%'),
  '%RH': unit('per cent relative humidity', '%', '%'),
  '%EL': unit('per cent of charge', '%', '%'),
  count: unit('count', 'count', '{count}'),
  'S/m': unit('siemens per metre', 'S/m', 'S/m'),
  'mS/cm': unit('millisiemens per centimetre', 'mS/cm', 'mS/cm'),
  kPa: unit('kilopascal', 'kPa', 'kPa'),
  Pa: unit('pascal', 'Pa', 'Pa'),
  // UCUM has bel watt, not bel milliwatt.
  dBm: { name: 'decibel to one milliwatt', symbol: 'dBm', definition: null },
}

/** The standard wants all three, null where there is none (OGC 18-088 table 12). */
export const unitOf = (wire: string): UnitOfMeasurement =>
  (Object.hasOwn(BY_WIRE, wire) ? BY_WIRE[wire] : undefined) ?? {
    name: wire === '' ? null : wire,
    symbol: wire === '' ? null : wire,
    definition: null,
  }
