import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { daysAhead } from '../days-ahead.ts'
import type { ApiDeps } from '../deps.ts'
import { dayAhead, entry, journalQuery } from '../schemas/journal.ts'

/** The journal of the whole garden, and what lies ahead. */
export function diaryRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/journal',
      {
        schema: {
          summary: 'The journal of all beds, oldest first',
          querystring: journalQuery,
          response: { 200: z.array(entry) },
        },
      },
      async (request) => {
        const { from, to } = request.query
        const rows = await deps.garden.journal({
          ...(from === undefined ? {} : { from }),
          ...(to === undefined ? {} : { to }),
        })
        return rows.map((row) => ({ ...row }))
      },
    )
    app.get(
      '/ahead',
      {
        schema: {
          summary: 'What has a day: portions, re-tests, ends of trials, calibrations',
          response: { 200: z.array(dayAhead) },
        },
      },
      async () => [...(await daysAhead(deps))],
    )
  }
}
