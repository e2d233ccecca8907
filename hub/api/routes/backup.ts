import { readdirSync } from 'node:fs'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { tarOf } from '../../transfer/tar.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem } from '../problem.ts'

/** A copy of everything that cannot be made again, as one file. */
export function backupRoutes({ backup, clock }: ApiDeps): FastifyPluginAsyncZod {
  let busy = false
  return async (app) => {
    app.get(
      '/backup.tar',
      {
        schema: { summary: 'The whole data folder as it is now, as a tar archive' },
        // It would make a copy for nothing.
        exposeHeadRoute: false,
      },
      async (_request, reply) => {
        if (busy) throw new ApiProblem(409, 'a backup is being made; try again when it is done')
        busy = true
        let made: Awaited<ReturnType<typeof backup>>
        try {
          made = await backup()
        } catch (error) {
          busy = false
          throw error
        }
        const day = new Date(clock()).toISOString().slice(0, 10)
        const files = readdirSync(made.folder).map((name) => join(made.folder, name))
        const body = Readable.from(tarOf(files, clock()), { objectMode: false })
        // Whether it was fetched to the end or not.
        body.on('close', () => {
          busy = false
          made.drop()
        })
        return reply
          .type('application/x-tar')
          .header('content-disposition', `attachment; filename="loamline-${day}.tar"`)
          .send(body)
      },
    )
  }
}
