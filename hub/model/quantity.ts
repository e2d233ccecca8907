/**
 * What a bed is watched for, after conversion from what a probe senses.
 *
 * - `ph`: soil pH as the electrode in the soil shows it, pH units
 * - `moisture`: fraction of the probe's own dry-to-wet range (0 = dry point, 1 = wet point), or m3/m3
 *   when the probe itself reports volumetric water content
 * - `temperature`: soil temperature, degrees Celsius
 */
export const QUANTITIES = ['ph', 'moisture', 'temperature'] as const
export type Quantity = (typeof QUANTITIES)[number]

/** What one channel of a probe senses; the names are those of the wire format (`q` in a channel description). */
export const SENSED = [
  'ph',
  'ph.emf',
  'vwc',
  'moist.raw',
  'permittivity',
  'temp.soil',
  'temp.air',
  'rh.air',
  'ec',
  'tension',
  'bat',
  'rssi',
  'other',
] as const
export type Sensed = (typeof SENSED)[number]
