import { Readable } from 'node:stream'
import type { FastifyReply } from 'fastify'
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import type { z } from 'zod'
import { exportReadings } from '../../transfer/export-readings.ts'
import type { ExportAsked } from '../../transfer/export-readings.ts'
import { recordTable } from '../../transfer/record-tables.ts'
import type { ApiDeps } from '../deps.ts'
import { badValue } from '../problem.ts'
import { exportQuery, recordParam } from '../schemas/transfer.ts'
import { CSV_TYPE } from '../tables.ts'
import { say } from '../../words/say.ts'

/** Readings and records as files of open formats. */
export function exportRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, clock } = deps

  async function send(
    reply: FastifyReply,
    query: z.output<typeof exportQuery>,
    lines: boolean,
  ): Promise<FastifyReply> {
    const { from = 0, to = clock() + 86_400_000, step } = query
    if (to <= from) throw badValue('to', say`expected a time after 'from' (${from}), got ${to}`)
    const known = (await garden.probes()).map(({ id }) => id)
    const stranger = query.probe?.find((id) => !known.includes(id))
    if (stranger !== undefined) {
      throw badValue(
        'probe',
        say`expected one of ${known.join(', ') || say`none yet`}, got '${stranger}'`,
      )
    }
    const asked: ExportAsked = {
      probes: query.probe,
      channels: query.channel,
      from,
      to,
      step,
      layout: lines ? 'lines' : query.layout,
      zone: query.zone ?? (await garden.garden()).zone,
    }
    const name = `readings${step === 'hour' ? '-by-hour' : ''}.${lines ? 'lp' : 'csv'}`
    return reply
      .type(lines ? 'text/plain; charset=utf-8' : CSV_TYPE)
      .header('content-disposition', `attachment; filename="${name}"`)
      .send(Readable.from(exportReadings(deps, asked)))
  }

  return async (app) => {
    app.get(
      '/export/readings.csv',
      {
        schema: {
          summary: 'Readings as sent, or by hour, as a table; streamed',
          querystring: exportQuery,
        },
        exposeHeadRoute: false,
      },
      async (request, reply) => send(reply, request.query, false),
    )
    app.get(
      '/export/readings.lp',
      {
        schema: {
          summary: 'The same as InfluxDB line protocol with nanoseconds; streamed',
          querystring: exportQuery,
        },
        exposeHeadRoute: false,
      },
      async (request, reply) => send(reply, request.query, true),
    )
    app.get(
      '/export/records/:table',
      {
        schema: { summary: "One kind of the garden's records as a table", params: recordParam },
      },
      async (request, reply) => {
        const { table } = request.params
        return reply
          .type(CSV_TYPE)
          .header('content-disposition', `attachment; filename="${table}.csv"`)
          .send(await recordTable(garden, table))
      },
    )
  }
}
