import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import type { Photo } from '../../model/plan.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, notFound } from '../problem.ts'
import { id, idParam } from '../schemas/common.ts'
import { say } from '../../words/say.ts'

/** A page sends a picture shrunk to 1600 px: a tenth of this. */
const MOST_BYTES = 3 * 1024 * 1024

/** Pictures of journal entries. What they are is told by their first bytes, not by what the sender says. */
export function photoRoutes({ garden, live }: ApiDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/beds/:id/photos',
      {
        schema: {
          summary: 'Journal entries of a bed that have a photo',
          params: idParam,
          response: { 200: z.array(id) },
        },
      },
      async (request) => {
        if ((await garden.bed(request.params.id)) === null) throw notFound('bed')
        return [...(await garden.photos(request.params.id))]
      },
    )
    app.get(
      '/journal/:id/photo',
      { schema: { summary: 'The photo of a journal entry', params: idParam } },
      async (request, reply) => {
        const photo = await garden.photo(request.params.id)
        if (photo === null) throw notFound('photo')
        return reply
          .header('content-type', photo.type)
          .header('content-disposition', 'inline')
          .header('content-security-policy', "default-src 'none'")
          .header('cache-control', 'private, no-cache')
          .send(Buffer.from(photo.bytes))
      },
    )
    await app.register(async (raw) => {
      // Whatever it calls itself: the bytes tell.
      raw.removeAllContentTypeParsers()
      raw.addContentTypeParser(
        '*',
        { parseAs: 'buffer', bodyLimit: MOST_BYTES },
        (_request, body, done) => done(null, body),
      )
      raw.put<{ Params: { id: number }; Body: Buffer }>(
        '/journal/:id/photo',
        {
          bodyLimit: MOST_BYTES,
          schema: {
            summary: 'Give a journal entry a photo: the bytes of a JPEG, PNG or WebP picture',
            params: idParam,
          },
        },
        async (request, reply) => {
          const { body } = request
          const type = Buffer.isBuffer(body) ? pictureType(body) : null
          if (type === null) {
            throw new ApiProblem(
              415,
              say`expected a JPEG, PNG or WebP picture, got ${String(request.headers['content-type'] ?? say`nothing`)}`,
            )
          }
          const entry = await garden.entry(request.params.id)
          if (entry === null) throw notFound('journal entry')
          await garden.setPhoto({ entryId: entry.id, type, bytes: new Uint8Array(body) })
          live.send({ event: 'journal', data: { bedId: entry.bedId } })
          return reply.code(204).send(null)
        },
      )
    })
    app.delete(
      '/journal/:id/photo',
      {
        schema: {
          summary: 'Remove the photo of a journal entry',
          params: idParam,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const entry = await garden.entry(request.params.id)
        if (entry === null || !(await garden.removePhoto(entry.id))) throw notFound('photo')
        live.send({ event: 'journal', data: { bedId: entry.bedId } })
        return reply.code(204).send(null)
      },
    )
  }
}

function pictureType(bytes: Buffer): Photo['type'] | null {
  if (bytes.subarray(0, 3).equals(Buffer.from([0xff, 0xd8, 0xff]))) return 'image/jpeg'
  if (bytes.subarray(0, 8).equals(Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'))) return 'image/png'
  const isWebp =
    bytes.toString('latin1', 0, 4) === 'RIFF' && bytes.toString('latin1', 8, 12) === 'WEBP'
  return isWebp ? 'image/webp' : null
}
