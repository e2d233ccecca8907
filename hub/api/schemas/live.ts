import { z } from 'zod'
import { alarm } from './alarm.ts'
import { bedView } from './bed.ts'
import { health } from './health.ts'
import { job } from './job.ts'

/**
 * Server-sent events of /api/live. The event name is the member; the data is its JSON.
 * `bed`: a bed was assessed again, or edited. `beds`: the set of beds changed, fetch the list.
 * `alarm`: an alarm was raised or changed state. `probes`: a probe changed or a stranger came.
 * `journal`: a bed's journal changed. `health`: the hub's state changed.
 * `job`: long work got on.
 * `messages`: a message or a route for messages got on.
 */
export const liveEvent = z.discriminatedUnion('event', [
  z.object({ event: z.literal('bed'), data: bedView }),
  z.object({ event: z.literal('beds'), data: z.object({}) }),
  z.object({ event: z.literal('alarm'), data: alarm }),
  z.object({ event: z.literal('probes'), data: z.object({}) }),
  z.object({ event: z.literal('journal'), data: z.object({ bedId: z.number() }) }),
  z.object({ event: z.literal('health'), data: health }),
  z.object({ event: z.literal('messages'), data: z.object({}) }),
  z.object({ event: z.literal('job'), data: job }),
])
export type LiveEvent = z.infer<typeof liveEvent>
