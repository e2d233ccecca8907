/** Factor and shift that bring a unit of the wire to the one used inside: mV, degrees Celsius, m3/m3. */
const TO_INSIDE: ReadonlyMap<string, readonly [factor: number, shift: number]> = new Map([
  ['V', [1000, 0]],
  ['uV', [0.001, 0]],
  ['K', [1, -273.15]],
  ['degF', [5 / 9, -160 / 9]],
  ['%', [0.01, 0]],
])

/** A value in its inside unit. Units not listed are those already. */
export function toInside(unit: string, value: number): number {
  const [factor, shift] = TO_INSIDE.get(unit) ?? [1, 0]
  return factor * value + shift
}
