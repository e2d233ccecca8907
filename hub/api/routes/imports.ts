import type { FastifyPluginAsyncZod, ZodTypeProvider } from 'fastify-type-provider-zod'
import type { z } from 'zod'
import { checkImport } from '../../transfer/check-import.ts'
import { guessMap } from '../../transfer/guess-map.ts'
import type { ImportReport } from '../../transfer/import-report.ts'
import { storeImport } from '../../transfer/store-import.ts'
import { NoTable } from '../../transfer/table-rows.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem } from '../problem.ts'
import {
  firstLook,
  importQuery,
  importReport,
  lookQuery,
  type ImportReportView,
} from '../schemas/transfer.ts'
import { say } from '../../words/say.ts'

/** A year of a probe with five channels every ten minutes is 4 MiB. */
export const MOST_FILE_BYTES = 64 * 1024 * 1024
/** The beginning of a file is enough to guess by. */
const MOST_LOOK_BYTES = 256 * 1024

/** The bytes of a body as they come, up to a limit. */
async function* limited(body: unknown, most: number): AsyncGenerator<Uint8Array> {
  let bytes = 0
  for await (const piece of body as AsyncIterable<Buffer>) {
    bytes += piece.length
    if (bytes > most) {
      const expected = most < 1024 * 1024 ? `${most / 1024} KiB` : `${most / 1024 / 1024} MiB`
      throw new ApiProblem(413, say`expected a file of at most ${expected}; cut it in parts`)
    }
    yield piece
  }
}

const viewOf = (report: ImportReport, stored: number | null): ImportReportView => ({
  ...report,
  bad: [...report.bad],
  probes: report.probes.map((p) => ({ ...p, channels: [...p.channels] })),
  preview: report.preview.map((row) => ({
    ...row,
    values: row.values.map(({ channel, value }) => ({
      channel,
      value: Number.isNaN(value) ? null : value,
    })),
  })),
  stored,
})

const saidOf = ({ delimiter }: z.output<typeof lookQuery>) =>
  delimiter === undefined ? {} : { delimiter }

/** Readings out of a file; the body is the file itself. */
export function importRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  /** Two files at once would not see each other's readings. */
  let busy = false

  return async (app) => {
    await app.register(async (scope) => {
      const raw = scope.withTypeProvider<ZodTypeProvider>()
      raw.removeAllContentTypeParsers()
      raw.addContentTypeParser('*', (_request, body, done) => done(null, body))
      raw.post(
        '/import/look',
        {
          bodyLimit: MOST_LOOK_BYTES,
          schema: {
            summary: 'Guess from the beginning of a file how it is to be read',
            querystring: lookQuery,
            response: { 200: firstLook },
          },
        },
        async (request) => {
          const pieces = await Array.fromAsync(limited(request.body, MOST_LOOK_BYTES))
          const { zone } = await deps.garden.garden()
          try {
            const look = await guessMap(Buffer.concat(pieces), zone, saidOf(request.query))
            return {
              columns: [...look.columns],
              rows: look.rows.map((row) => [...row]),
              map: { ...look.map },
            }
          } catch (error) {
            if (error instanceof NoTable) throw new ApiProblem(400, error.message)
            throw error
          }
        },
      )
      raw.post(
        '/import/check',
        {
          bodyLimit: MOST_FILE_BYTES,
          schema: {
            summary: 'Look at every row of a file; nothing is stored',
            querystring: importQuery,
            response: { 200: importReport },
          },
        },
        async (request) => {
          const source = limited(request.body, MOST_FILE_BYTES)
          const { report } = await checkImport(source, request.query.map, deps)
          return viewOf(report, null)
        },
      )
      raw.post(
        '/import/store',
        {
          bodyLimit: MOST_FILE_BYTES,
          schema: {
            summary: 'Store the readings of a file, all or none; again changes nothing',
            querystring: importQuery,
            response: { 200: importReport },
          },
        },
        async (request) => {
          if (busy)
            throw new ApiProblem(409, say`another file is being stored; try again when it is`)
          busy = true
          try {
            const source = limited(request.body, MOST_FILE_BYTES)
            const { report, stored } = await storeImport(source, request.query.map, deps)
            if (stored !== null) {
              deps.live.send({ event: 'probes', data: {} })
              deps.live.send({ event: 'beds', data: {} })
            }
            return viewOf(report, stored)
          } finally {
            busy = false
          }
        },
      )
    })
  }
}
