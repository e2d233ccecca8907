import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import type { NewKey } from '../../accounts/key-book.ts'
import type { AccessKey } from '../../model/account.ts'
import type { KeyKind } from '../../model/account.ts'
import { say } from '../../words/say.ts'
import type { ApiDeps } from '../deps.ts'
import { badValue, notFound } from '../problem.ts'
import {
  key as keySchema,
  madeKey,
  shareInput,
  tokenInput,
  type KeyView,
  type MadeKey,
} from '../schemas/account.ts'
import { idParam } from '../schemas/common.ts'

/** Addresses that the secret of the feed address opens. */
const FEEDS = ['/api/calendar.ics', '/api/alarms.atom'] as const

/** Tokens of programs, share links of beds, the feed address: made, listed, taken back. None is ever read back. */
export function keyRoutes({ accounts, garden, clock }: ApiDeps): FastifyPluginAsyncZod {
  const view = (key: AccessKey): KeyView => ({
    ...key,
    scopes: [...key.scopes],
    over: key.endsAt !== null && clock() >= key.endsAt,
  })
  const all = (kind: KeyKind): KeyView[] => accounts.keys.all(kind).map(view)

  async function make(key: NewKey, paths: (secret: string) => readonly string[]): Promise<MadeKey> {
    if (key.endsAt !== null && key.endsAt <= clock()) {
      throw badValue('endsAt', say`expected a time to come`)
    }
    const made = await accounts.keys.make(key)
    return { key: view(made.key), secret: made.secret, paths: [...paths(made.secret)] }
  }
  async function end(kind: KeyKind, id: number, words: 'token' | 'share link'): Promise<void> {
    if (!(await accounts.keys.end(kind, id))) throw notFound(words)
  }

  return async (app) => {
    app.addHook('onSend', async (_request, reply) => {
      void reply.header('cache-control', 'no-store')
    })
    app.get(
      '/tokens',
      { schema: { summary: 'Tokens of programs', response: { 200: z.array(keySchema) } } },
      async () => all('token'),
    )
    app.post(
      '/tokens',
      {
        schema: {
          summary: 'Make a token for a program',
          description:
            'The program sends it as `Authorization: Bearer …`. The answer is the only place where it is.',
          body: tokenInput,
          response: { 201: madeKey },
        },
      },
      async (request, reply) => {
        const { name, scopes, endsAt } = request.body
        const key = {
          kind: 'token',
          name,
          scopes: [...new Set(scopes)],
          bedId: null,
          endsAt,
        } as const
        return reply.code(201).send(await make(key, () => []))
      },
    )
    app.delete(
      '/tokens/:id',
      { schema: { summary: 'Take a token back', params: idParam, response: { 204: z.null() } } },
      async (request, reply) => {
        await end('token', request.params.id, 'token')
        return reply.code(204).send(null)
      },
    )
    app.get(
      '/shares',
      { schema: { summary: 'Share links of beds', response: { 200: z.array(keySchema) } } },
      async () => all('share'),
    )
    app.post(
      '/shares',
      {
        schema: {
          summary: 'Make a link that shows one bed to whoever has it',
          body: shareInput,
          response: { 201: madeKey },
        },
      },
      async (request, reply) => {
        const { name, bedId, endsAt } = request.body
        const bed = await garden.bed(bedId)
        if (bed === null || bed.retiredAt !== null)
          throw badValue('bedId', say`expected a bed in use`)
        const key = { kind: 'share', name, scopes: [], bedId, endsAt } as const
        return reply.code(201).send(await make(key, (secret) => [`/shared/${secret}`]))
      },
    )
    app.delete(
      '/shares/:id',
      {
        schema: { summary: 'Take a share link back', params: idParam, response: { 204: z.null() } },
      },
      async (request, reply) => {
        await end('share', request.params.id, 'share link')
        return reply.code(204).send(null)
      },
    )
    app.get(
      '/feed-address',
      {
        schema: {
          summary: 'Whether calendar and feed programs have an address of their own',
          response: { 200: keySchema.nullable() },
        },
      },
      async () => all('feed').at(-1) ?? null,
    )
    app.post(
      '/feed-address',
      {
        schema: {
          summary:
            'Make a new secret address for calendar and feed programs; the one before stops working',
          body: z.null().optional(),
          response: { 201: madeKey },
        },
      },
      async (_request, reply) => {
        const before = accounts.keys.all('feed')
        const key = { kind: 'feed', name: 'feeds', scopes: [], bedId: null, endsAt: null } as const
        const made = await make(key, (secret) => FEEDS.map((path) => `${path}?key=${secret}`))
        for (const { id } of before) await accounts.keys.end('feed', id)
        return reply.code(201).send(made)
      },
    )
    app.delete(
      '/feed-address',
      { schema: { summary: 'Take the feed address back', response: { 204: z.null() } } },
      async (_request, reply) => {
        const before = accounts.keys.all('feed')
        if (before.length === 0) throw notFound('feed address')
        for (const { id } of before) await accounts.keys.end('feed', id)
        return reply.code(204).send(null)
      },
    )
  }
}
