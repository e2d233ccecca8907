import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { say } from '../../words/say.ts'
import type { ApiDeps } from '../deps.ts'
import { badValue, notFound } from '../problem.ts'
import { splitSecret } from '../route-secret.ts'
import { idParam } from '../schemas/common.ts'
import {
  message as messageSchema,
  messageQuery,
  pushKey,
  route as routeSchema,
  routeInput,
  routePause,
  testResult,
  type RouteInput,
} from '../schemas/message.ts'
import { messageView, routeView } from '../views/message.ts'

/** A hub does not write to more people and programs than these. */
const MOST_ROUTES = 50

/** By what ways messages reach the gardener, and how each message got on. Secrets go in and never come out. */
export function messageRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, clock, live, messages } = deps

  const routeOf = async (id: number) => {
    const route = (await garden.routes()).find((one) => one.id === id)
    if (route === undefined) throw notFound('route for messages')
    return route
  }
  /** What only the records can tell of a form. */
  async function check(body: RouteInput, own: number | null): Promise<void> {
    const [beds, routes] = await Promise.all([garden.beds({ retired: true }), garden.routes()])
    if (body.beds?.some((id) => !beds.some((bed) => bed.id === id)) === true) {
      throw badValue('beds', say`expected beds of this garden`)
    }
    const { escalate } = body
    if (escalate === null) return
    if (escalate.to === own || !routes.some(({ id }) => id === escalate.to)) {
      throw badValue('escalate/to', say`expected another route`)
    }
  }
  const news = (): void => {
    messages.touch()
    live.send({ event: 'messages', data: {} })
  }

  return async (app) => {
    app.addHook('onSend', async (_request, reply) => {
      void reply.header('cache-control', 'no-store')
    })
    app.get(
      '/message-routes',
      {
        schema: {
          summary: 'By what ways messages reach the gardener',
          response: { 200: z.array(routeSchema) },
        },
      },
      async () => (await garden.routes()).map(routeView),
    )
    app.post(
      '/message-routes',
      {
        schema: {
          summary: 'Add a route for messages',
          description:
            'It tells of what happens from then on. Passwords and keys are never read back.',
          body: routeInput,
          response: { 201: routeSchema },
        },
      },
      async (request, reply) => {
        await check(request.body, null)
        const { route, secret } = splitSecret(request.body, null)
        if ((await garden.routes()).length >= MOST_ROUTES) {
          throw badValue('name', say`expected at most ${MOST_ROUTES} routes`)
        }
        const made = await garden.addRoute(route, secret ?? null, clock())
        news()
        return reply.code(201).send(routeView(made))
      },
    )
    app.put(
      '/message-routes/:id',
      {
        schema: {
          summary: 'Change a route for messages',
          description:
            'A password, key or subscription that is left out stays, unless it would go to another server.',
          params: idParam,
          body: routeInput,
          response: { 200: routeSchema },
        },
      },
      async (request) => {
        const before = await routeOf(request.params.id)
        await check(request.body, before.id)
        const { route, secret } = splitSecret(request.body, before)
        const changed = await garden.changeRoute(before.id, route, secret)
        if (changed === null) throw notFound('route for messages')
        news()
        return routeView(changed)
      },
    )
    app.delete(
      '/message-routes/:id',
      {
        schema: {
          summary: 'Remove a route; what it has not sent yet is not sent',
          params: idParam,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        if (!(await garden.removeRoute(request.params.id))) throw notFound('route for messages')
        news()
        return reply.code(204).send(null)
      },
    )
    app.post(
      '/message-routes/:id/pause',
      {
        schema: {
          summary: 'Keep messages back until a time; then they come as one',
          params: idParam,
          body: routePause,
          response: { 200: routeSchema },
        },
      },
      async (request) => {
        const { until } = request.body
        if (until !== null && until <= clock()) {
          throw badValue('until', say`expected a time to come`)
        }
        const paused = await garden.pauseRoute(request.params.id, until)
        if (paused === null) throw notFound('route for messages')
        news()
        return routeView(paused)
      },
    )
    app.post(
      '/message-routes/:id/test',
      {
        schema: {
          summary: 'Send a test message now, and tell what the other side answered',
          params: idParam,
          body: z.null().optional(),
          response: { 200: testResult },
        },
      },
      async (request) => {
        const { id } = await routeOf(request.params.id)
        const result = await messages.test(id)
        if (result === null) throw notFound('route for messages')
        return result
      },
    )
    app.post(
      '/message-routes/:id/retry',
      {
        schema: {
          summary: 'Try the next message of a route now',
          params: idParam,
          body: z.null().optional(),
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        await messages.retry((await routeOf(request.params.id)).id)
        return reply.code(204).send(null)
      },
    )
    app.get(
      '/messages',
      {
        schema: {
          summary: 'Messages and how they got on, newest first',
          querystring: messageQuery,
          response: { 200: z.array(messageSchema) },
        },
      },
      async (request) => {
        const { route, limit } = request.query
        const [found, { name, zone }] = await Promise.all([
          garden.messages({ limit, ...(route === undefined ? {} : { routeId: route }) }),
          garden.garden(),
        ])
        return found.map((one) => messageView(one, { name, zone }))
      },
    )
    app.get(
      '/push-key',
      {
        schema: {
          summary: 'The key a browser subscribes to Web Push with',
          response: { 200: pushKey },
        },
      },
      async () => ({ publicKey: messages.pushKey }),
    )
  }
}
