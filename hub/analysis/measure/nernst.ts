/** Molar gas constant, J/(mol K), and Faraday constant, C/mol; CODATA 2018, from memory. */
const GAS = 8.314462618
const FARADAY = 96485.33212
const ZERO_CELSIUS_K = 273.15

/** Ideal slope of a pH electrode, mV per pH: ln 10 R T / F. 59.16 at 25 degrees Celsius. */
export function nernstSlope(temperatureC: number): number {
  return (1000 * Math.LN10 * GAS * (temperatureC + ZERO_CELSIUS_K)) / FARADAY
}
