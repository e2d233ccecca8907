import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import type { ApiDeps } from '../deps.ts'
import { notFound } from '../problem.ts'
import { alarm as alarmSchema, alarmQuery } from '../schemas/alarm.ts'
import { idParam } from '../schemas/common.ts'
import { alarmViews } from '../views/alarm.ts'

/** Alarms of one bed are picked out of so many: other beds' newer ones must not push them off the list. */
const LONGEST_LIST = 100_000

export function alarmRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, watch } = deps
  return async (app) => {
    app.get(
      '/alarms',
      {
        schema: {
          summary: 'Alarms, newest first',
          querystring: alarmQuery,
          response: { 200: z.array(alarmSchema) },
        },
      },
      async (request) => {
        const { open, bed, limit } = request.query
        const [alarms, beds] = await Promise.all([
          open === 'true'
            ? garden.openAlarms()
            : garden.alarms(bed === undefined ? limit : LONGEST_LIST),
          garden.beds({ retired: true }),
        ])
        const chosen = bed === undefined ? alarms : alarms.filter((a) => a.bedId === bed)
        return alarmViews(chosen.slice(0, limit), beds)
      },
    )
    app.post(
      '/alarms/:id/acknowledge',
      {
        schema: {
          summary: 'Say that you have seen an alarm',
          params: idParam,
          response: { 200: alarmSchema },
        },
      },
      async (request) => {
        const alarm = await watch.acknowledge(request.params.id)
        if (alarm === null) throw notFound('alarm')
        return alarmViews([alarm], await garden.beds({ retired: true }))[0]!
      },
    )
  }
}
