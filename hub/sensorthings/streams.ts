import type { Bed, Spot } from '../model/bed.ts'
import type { Calibration, Channel, Placement, Probe } from '../model/probe.ts'
import type { Quantity, Sensed } from '../model/quantity.ts'

/** What the garden knows that becomes entities. */
export interface GardenRecords {
  readonly probes: readonly Probe[]
  readonly channels: readonly Channel[]
  readonly beds: readonly Bed[]
  readonly spots: readonly Spot[]
  /** Ascending in `from`. */
  readonly placements: readonly Placement[]
  readonly calibrations: readonly Calibration[]
}

/**
 * One series of observations: a channel as its probe sent it, or what the hub makes of some of them. Its id is
 * `probe:channel` or `probe:soil-quantity`; no channel name has a hyphen.
 */
export type Stream = {
  readonly id: string
  readonly probe: Probe
} & (
  | { readonly kind: 'sent'; readonly channel: Channel }
  | {
      readonly kind: 'made'
      readonly quantity: Quantity
      /** Channels it is made of, the one it is named after first. */
      readonly channels: readonly Channel[]
    }
)

const MADE_OF: Readonly<Record<Quantity, readonly Sensed[]>> = {
  ph: ['ph.emf', 'ph', 'temp.soil'],
  moisture: ['vwc', 'permittivity', 'moist.raw'],
  temperature: ['temp.soil'],
}

/** Every series of the garden's own probes, by probe, then channels by name, then what is made of them. */
export function streamsOf({ probes, channels }: GardenRecords): readonly Stream[] {
  return probes
    .filter(({ adoptedAt }) => adoptedAt !== null)
    .toSorted((a, b) => (a.id < b.id ? -1 : 1))
    .flatMap((probe): Stream[] => {
      const own = channels
        .filter((channel) => channel.probe === probe.id)
        .toSorted((a, b) => (a.name < b.name ? -1 : 1))
      const sent = own.map((channel): Stream => ({
        kind: 'sent',
        id: `${probe.id}:${channel.name}`,
        probe,
        channel,
      }))
      const made = (Object.entries(MADE_OF) as [Quantity, readonly Sensed[]][]).flatMap(
        ([quantity, senses]): Stream[] => {
          const parts = senses.flatMap((one) => own.filter((c) => c.senses === one))
          // A soil temperature alone makes no pH.
          const first = parts[0]
          if (first === undefined || (quantity === 'ph' && first.senses === 'temp.soil')) return []
          return [
            { kind: 'made', id: `${probe.id}:soil-${quantity}`, probe, quantity, channels: parts },
          ]
        },
      )
      return [...sent, ...made]
    })
}

/** Where a probe sat: the spot's id, or 0 while it was in none. */
export function spotAt(placements: readonly Placement[], probe: string, at: number): number {
  const found = placements.findLast(
    (p) => p.probe === probe && p.from <= at && (p.to === null || at < p.to),
  )
  return found?.spotId ?? 0
}
