import type { FastifyPluginAsyncZod, ZodTypeProvider } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { say } from '../../words/say.ts'
import type { ApiDeps } from '../deps.ts'
import { limited } from '../limited-body.ts'
import { ApiProblem, notFound } from '../problem.ts'
import { idParam } from '../schemas/common.ts'
import { broughtBack, damagedPart, type DamagedPartView } from '../schemas/damaged.ts'
import { jobUnderWay } from './jobs.ts'

/** An archive holds no larger file, and no backup is larger. */
const MOST_BYTES = 8 ** 11
const GIB = 1024 ** 3

/** Readings that were damaged on the disk: which, their bytes, and what becomes of them. */
export function damagedRoutes({ readings, clock, live, ...deps }: ApiDeps): FastifyPluginAsyncZod {
  const { damage } = readings
  let busy = false

  const list = async (): Promise<DamagedPartView[]> =>
    (await damage.list()).map((part) => ({
      ...part,
      settled: part.settled === null ? null : { ...part.settled },
    }))

  return async (app) => {
    app.get(
      '/damaged',
      {
        schema: {
          summary: 'Readings that were found damaged on the disk, the newest first',
          response: { 200: z.array(damagedPart) },
        },
      },
      list,
    )
    app.get(
      '/damaged/:id/bytes',
      {
        schema: { summary: 'The bytes of a damaged part as they were found', params: idParam },
      },
      async (request, reply) => {
        const { id } = request.params
        const bytes = await damage.bytes(id)
        if (bytes === null) throw notFound('damaged part')
        return reply
          .type('application/octet-stream')
          .header('content-disposition', `attachment; filename="damaged-${id}.bin"`)
          .send(Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength))
      },
    )
    app.post(
      '/damaged/:id/gone',
      {
        schema: {
          summary: 'Do without a damaged part: its bytes are deleted',
          params: idParam,
          response: { 200: z.array(damagedPart) },
        },
      },
      async (request) => {
        if (!(await damage.gone(request.params.id, clock()))) throw notFound('damaged part')
        return list()
      },
    )
    await app.register(async (scope) => {
      const raw = scope.withTypeProvider<ZodTypeProvider>()
      raw.removeAllContentTypeParsers()
      raw.addContentTypeParser('*', (_request, body, done) => done(null, body))
      raw.post(
        '/damaged/bring-back',
        {
          bodyLimit: MOST_BYTES,
          schema: {
            summary: 'Bring damaged readings back out of a backup',
            description:
              'The body is the archive of a backup. What is known stays as it is, and each reading is kept once.',
            response: { 200: broughtBack },
          },
        },
        async (request) => {
          if (busy) throw jobUnderWay()
          busy = true
          try {
            const archive = limited(
              request.body,
              MOST_BYTES,
              () => say`expected the archive of a backup, at most ${MOST_BYTES / GIB} GiB`,
            )
            const brought = await deps.bringBack(archive)
            if ('refused' in brought) throw new ApiProblem(400, brought.refused)
            if (brought.readings > 0) live.send({ event: 'beds', data: {} })
            return { ...brought, parts: [...brought.parts] }
          } finally {
            busy = false
          }
        },
      )
    })
  }
}
