import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { HubError } from '../../errors.ts'
import type { Damaged } from '../../store/reading-store.ts'
import type { ApiDeps, HubState } from '../deps.ts'
import { health, quarantineQuery, quarantineRow, type Health } from '../schemas/health.ts'

const NO_COUNTS = {
  readings: 0,
  duplicates: 0,
  quarantined: 0,
  quarantineDropped: 0,
  lost: 0,
  damaged: 0,
}

/** The hub's state as far as it can be told; a store that is away is part of the answer, not an error. */
export async function healthNow(deps: ApiDeps): Promise<Health> {
  const hub = deps.hub()
  const evaluation = deps.watch.state()
  let store = storeNow(hub.intake, null)
  let counts = NO_COUNTS
  let adopted = 0
  let strangers = 0
  let influx: Health['influx'] = null
  try {
    const [intake, probes, forwarding, damaged] = await Promise.all([
      deps.readings.counts(),
      deps.garden.probes(),
      deps.readings.forwarding(),
      hub.intake.damaged?.() ?? null,
    ])
    store = storeNow(hub.intake, damaged)
    counts = { ...intake, damaged: damaged?.readings ?? 0 }
    influx = forwarding
    adopted = probes.filter((p) => p.adoptedAt !== null).length
    strangers = probes.length - adopted
  } catch (error) {
    if (!(error instanceof HubError)) throw error
    store = { state: 'down', problem: error.message }
  }
  const intakeLog = hub.intakeLog ?? null
  const taken =
    intakeLog === null ||
    (intakeLog.state === 'up' &&
      intakeLog.logs.every(({ problem, silentSince }) => problem === null && silentSince === null))
  const sentOn = influx === null || (influx.state === 'up' && influx.refused === 0)
  const well =
    hub.broker.state === 'up' &&
    store.problem === null &&
    evaluation.problem === null &&
    taken &&
    sentOn
  return {
    status: well ? 'ok' : 'trouble',
    version: hub.version,
    startedAt: hub.startedAt,
    now: deps.clock(),
    broker: hub.broker,
    store,
    intakeLog,
    influx,
    disk: (await hub.disk?.()) ?? null,
    evaluation: { lastAt: evaluation.lastAt, problem: evaluation.problem },
    counts: { ...counts, probes: adopted, strangers },
    demo: hub.demo,
    loading: hub.loading,
  }
}

function storeNow(
  { problem, settling = null, setAside = [] }: HubState['intake'],
  damaged: Damaged | null,
): Health['store'] {
  if (problem !== null) return { state: 'down', problem }
  if (settling !== null)
    return {
      state: 'up',
      problem: `readings are kept, but the newest cannot be shown: ${settling}`,
    }
  if (setAside.length > 0)
    return { state: 'up', problem: `a damaged database was put aside: ${setAside.join(', ')}` }
  if (damaged !== null)
    return {
      state: 'up',
      problem: `${damaged.readings} readings were found damaged on the disk, in ${damaged.parts} places, and put aside`,
      about: 'damaged readings',
    }
  return { state: 'up', problem: null }
}

/** Text where the payload is text a person can read, else hexadecimal. */
function readable(payload: Uint8Array): string {
  try {
    const text = new TextDecoder('utf-8', { fatal: true }).decode(payload)
    // oxlint-disable-next-line no-control-regex -- control characters are exactly what is looked for
    if (!/[\u0000-\u0008\u000e-\u001f\u007f]/.test(text)) return text
  } catch {
    // Not UTF-8: fall through to hexadecimal.
  }
  return `0x${Buffer.from(payload).toString('hex')}`
}

export function healthRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/health',
      { schema: { summary: 'How the hub is', response: { 200: health } } },
      async () => healthNow(deps),
    )
    app.get(
      '/quarantine',
      {
        schema: {
          summary: 'Messages nobody could use, newest first',
          querystring: quarantineQuery,
          response: { 200: z.array(quarantineRow) },
        },
      },
      async (request) => {
        const rows = await deps.readings.quarantine(request.query.limit)
        return rows.map((r) => ({
          id: r.id,
          arrivedAt: r.arrivedAt,
          topic: r.topic,
          payload: readable(r.payload),
          reason: r.reason,
        }))
      },
    )
  }
}
