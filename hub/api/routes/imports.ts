import type { FastifyPluginAsyncZod, ZodTypeProvider } from 'fastify-type-provider-zod'
import type { z } from 'zod'
import { checkImport } from '../../transfer/check-import.ts'
import { guessMap } from '../../transfer/guess-map.ts'
import type { ImportReport } from '../../transfer/import-report.ts'
import { storeImport } from '../../transfer/store-import.ts'
import { NoTable } from '../../transfer/table-rows.ts'
import type { ApiDeps } from '../deps.ts'
import { limited } from '../limited-body.ts'
import { ApiProblem } from '../problem.ts'
import { whoIs } from '../who.ts'
import { jobUnderWay } from './jobs.ts'
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

const sized = (body: unknown, most: number): AsyncGenerator<Uint8Array> =>
  limited(body, most, () => {
    const expected = most < 1024 * 1024 ? `${most / 1024} KiB` : `${most / 1024 / 1024} MiB`
    return say`expected a file of at most ${expected}; cut it in parts`
  })

/** Share of the work that looking at every row is, about. */
const CHECKING = 0.5

/** The same bytes; says how many came. */
async function* withBytes(
  source: AsyncIterable<Uint8Array>,
  told: (bytes: number) => void,
): AsyncGenerator<Uint8Array> {
  let bytes = 0
  for await (const piece of source) {
    bytes += piece.length
    told(bytes)
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
          const pieces = await Array.fromAsync(sized(request.body, MOST_LOOK_BYTES))
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
          const source = sized(request.body, MOST_FILE_BYTES)
          const { report } = await checkImport(source, request.query.map, deps)
          return viewOf(report, null)
        },
      )
      raw.post(
        '/import/store',
        {
          bodyLimit: MOST_FILE_BYTES,
          schema: {
            summary:
              'Store the readings of a file when every row of it is good; again changes nothing',
            description:
              'It is a job: it shows under /jobs while it runs and can be given up there.',
            querystring: importQuery,
            response: { 200: importReport },
          },
        },
        async (request) => {
          const source = sized(request.body, MOST_FILE_BYTES)
          const length = Number(request.headers['content-length'] ?? 0)
          const started = deps.jobs.start('import', whoIs(request).name, async (at) => {
            let stored = 0
            const counted = withBytes(source, (bytes) => {
              if (length > 0) at.tell((CHECKING * bytes) / length)
            })
            const outcome = await storeImport(counted, request.query.map, deps, {
              signal: at.signal,
              onStored(done, of) {
                stored = done
                at.keep({ done, of })
                at.tell(CHECKING + ((1 - CHECKING) * done) / of)
              },
            })
            if (outcome.stored !== null) {
              deps.live.send({ event: 'probes', data: {} })
              deps.live.send({ event: 'beds', data: {} })
            }
            return { ...outcome, done: stored }
          })
          if (started === null) throw jobUnderWay()
          const outcome = await started.result
          if (outcome === null) {
            const kept = deps.jobs.get(started.job.id)?.kept ?? null
            throw new ApiProblem(
              409,
              kept === null
                ? say`The import was given up; nothing was stored.`
                : say`The import was given up; ${kept.done} of ${kept.of} new readings are stored. The same file again brings the rest.`,
            )
          }
          return viewOf(outcome.report, outcome.stored)
        },
      )
    })
  }
}
