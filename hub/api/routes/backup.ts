import { existsSync, readdirSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { tarOf } from '../../transfer/tar.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem } from '../problem.ts'
import type { JobResult } from '../views/job.ts'
import { whoIs } from '../who.ts'
import { jobUnderWay } from './jobs.ts'

/** Bytes of the files in a folder; 0 when it is gone. */
const sizeOf = (folder: string): number =>
  existsSync(folder)
    ? readdirSync(folder).reduce((sum, name) => sum + statSync(join(folder, name)).size, 0)
    : 0

/** A copy of everything that cannot be made again, as one file. */
export function backupRoutes({ backup, clock, jobs }: ApiDeps): FastifyPluginAsyncZod {
  let busy = false
  return async (app) => {
    app.get(
      '/backup.tar',
      {
        schema: { summary: 'The whole data folder as it is now, as a tar archive' },
        // It would make a copy for nothing.
        exposeHeadRoute: false,
      },
      async (request, reply) => {
        if (busy) throw jobUnderWay()
        busy = true
        let made: Awaited<ReturnType<typeof backup>> | null = null
        try {
          const started = jobs.start('backup', whoIs(request).name, async (at) => {
            made = await backup({ signal: at.signal, tell: (share) => at.tell(share) })
            // Given up at the last moment: nothing of it stays.
            if (at.signal.aborted) made.drop()
            return { done: sizeOf(made.folder) } satisfies JobResult
          })
          if (started === null) throw jobUnderWay()
          if ((await started.result) === null) {
            throw new ApiProblem(409, 'the backup was given up; nothing of it was kept')
          }
          made = made as Awaited<ReturnType<typeof backup>> | null
        } catch (error) {
          busy = false
          throw error
        }
        if (made === null) throw new TypeError('a backup that was made is not there')
        const { folder, drop } = made
        const day = new Date(clock()).toISOString().slice(0, 10)
        const files = readdirSync(folder).map((name) => join(folder, name))
        const body = Readable.from(tarOf(files, clock()), { objectMode: false })
        // Whether it was fetched to the end or not.
        body.on('close', () => {
          busy = false
          drop()
        })
        return reply
          .type('application/x-tar')
          .header('content-disposition', `attachment; filename="loamline-${day}.tar"`)
          .send(body)
      },
    )
  }
}
