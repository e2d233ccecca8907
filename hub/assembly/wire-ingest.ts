import type { Logger } from 'pino'
import type { LiveFeed } from '../api/live.ts'
import type { Config } from '../config/settings.ts'
import type { Publish } from '../delivery/retained.ts'
import { createIngest, type Ingest } from '../ingest/ingest.ts'
import { createProbeAsking, type ProbeAsking } from '../ingest/probe-asking.ts'
import { createRateLimiter, type RateLimiter } from '../ingest/rate-limiter.ts'
import { SECOND, type Clock } from '../model/clock.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'

export interface WiredIngest {
  readonly ingest: Ingest
  /** What the hub wants of probes. */
  readonly asking: ProbeAsking
  readonly limiter: RateLimiter
  /** No more news to pages and limits; the ingest itself ends once nothing comes in any more. */
  quiet(): void
}

/** What takes readings in, what asks probes for something, and how much they may send. */
export function wireIngest(options: {
  readonly config: Config
  readonly readings: ReadingStore
  readonly garden: GardenStore
  /** Probes the garden knows, taken in or waiting. */
  readonly known: readonly string[]
  readonly clock: Clock
  readonly live: LiveFeed
  readonly log: Logger
  readonly publish: Publish
  readonly setRetained: (topic: string, payload: string) => void
  readonly background: (work: Promise<unknown>) => void
}): WiredIngest {
  const { config, readings, garden, clock, live, log, background } = options
  const limiter = createRateLimiter({
    clock,
    scale: config.probeLimit,
    onNotice: (sender) => {
      log.warn(`${sender}: sends more than it may; what is too much is counted and not taken`)
      live.send({ event: 'probes', data: {} })
    },
  })

  let probesNews: NodeJS.Timeout | undefined
  const ingest = createIngest({
    readings,
    garden,
    clock,
    maxStrangers: config.maxStrangers,
    known: options.known,
    log: {
      warn: (message) => log.warn(message),
      info: (message) => log.info(message),
    },
    onAnswer: (probe) => {
      background(asking.stand(probe))
      live.send({ event: 'probes', data: {} })
    },
    // Pages fetch the whole list: once a second is as good as each time.
    onHeard: () => {
      probesNews ??= setTimeout(() => {
        probesNews = undefined
        live.send({ event: 'probes', data: {} })
      }, SECOND)
    },
  })
  const asking = createProbeAsking({
    orders: ingest.orders,
    garden,
    clock,
    setRetained: options.setRetained,
    publish: (topic, payload) => options.publish(topic, payload, { retain: false }),
    onTrouble: (message) => log.warn(message),
  })
  const offStore = ingest.onState(({ state }) => limiter.storeIs(state))

  return {
    ingest,
    asking,
    limiter,
    quiet() {
      clearTimeout(probesNews)
      offStore()
    },
  }
}
