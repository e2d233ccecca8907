/** What a soil can be. The codes 0 and 14 that failing probes send lie outside as well. */
const PH_RANGE = { low: 2.5, high: 11 } as const
/** Where a pH electrode can be believed, degrees Celsius: colder it is slow and may freeze (trade judgement). */
const ELECTRODE_TEMPERATURE = { low: 2, high: 40 } as const
/** What soil can be near the surface, degrees Celsius. */
const TEMPERATURE_RANGE = { low: -30, high: 70 } as const

/** True when a pH can be that of a soil; NaN cannot. */
export function isSoilPh(ph: number): boolean {
  return ph >= PH_RANGE.low && ph <= PH_RANGE.high
}

/** True when a temperature was measured and the electrode cannot be believed at it. */
export function isBeyondElectrode(temperatureC: number): boolean {
  return temperatureC < ELECTRODE_TEMPERATURE.low || temperatureC > ELECTRODE_TEMPERATURE.high
}

export function isSoilTemperature(temperatureC: number): boolean {
  return temperatureC >= TEMPERATURE_RANGE.low && temperatureC <= TEMPERATURE_RANGE.high
}
