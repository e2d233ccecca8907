import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import type { Command, Order, ProbeSettings } from '../model/order.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { Orders } from './orders.ts'

export interface ProbeAskingDeps {
  readonly orders: Orders
  readonly garden: GardenStore
  readonly clock: Clock
  /** What should stand retained on a topic; '' clears it. */
  readonly setRetained: (topic: string, payload: string) => void
  /** Sends one message that is not retained. */
  readonly publish: (topic: string, payload: string) => Promise<void>
  readonly onTrouble: (trouble: string) => void
}

/** Takes the gardener's wishes to the broker. */
export interface ProbeAsking {
  command(probe: string, what: Command, expiresAt: number): Promise<Order>
  settings(probe: string, settings: ProbeSettings): Promise<Order>
  /** Lets the settings that are wanted stand at the broker: of one probe, or of all. */
  stand(probe?: string): Promise<void>
}

export function createProbeAsking(deps: ProbeAskingDeps): ProbeAsking {
  const { orders, garden, clock } = deps

  async function stand(probe?: string): Promise<void> {
    for (const { topic, payload } of await orders.standing(probe)) deps.setRetained(topic, payload)
  }

  return {
    async command(probe, what, expiresAt) {
      const order = await orders.command(probe, what, clock(), expiresAt)
      const state = (await garden.probe(probe))?.state
      // One that sleeps or is away hears of it when it says that it is there.
      if (state === 'sleep' || state === 'off') return order
      for (const { topic, payload } of await orders.spoke(probe, clock())) {
        await deps.publish(topic, payload).catch((error: unknown) => {
          if (!(error instanceof HubError)) throw error
          // Not lost: what has no answer goes out again when the probe speaks.
          deps.onTrouble(`${topic}: ${error.message}`)
        })
      }
      return (await garden.orders(probe, 1))[0] ?? order
    },
    async settings(probe, settings) {
      const order = await orders.settings(probe, settings, clock())
      await stand(probe)
      return order
    },
    stand,
  }
}
