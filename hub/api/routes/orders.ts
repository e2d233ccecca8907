import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { SECOND } from '../../model/clock.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, notFound } from '../problem.ts'
import { probeParam } from '../schemas/common.ts'
import { commandInput, orderView as orderSchema, settingsInput } from '../schemas/order.ts'
import { orderView } from '../views/order.ts'
import { say } from '../../words/say.ts'

/** Settings and commands for a probe. */
export function orderRoutes({ garden, orders, live, clock }: ApiDeps): FastifyPluginAsyncZod {
  async function refuseStranger(id: string): Promise<void> {
    const probe = await garden.probe(id)
    if (probe === null) throw notFound('probe')
    if (probe.adoptedAt === null) {
      throw new ApiProblem(409, say`take '${id}' in before it is asked for anything`)
    }
  }

  return async (app) => {
    app.put(
      '/probes/:id/settings',
      {
        schema: {
          summary: 'Ask a probe for other settings; it may refuse them',
          params: probeParam,
          body: settingsInput,
          response: { 200: orderSchema },
        },
      },
      async (request) => {
        const { id } = request.params
        await refuseStranger(id)
        const order = await orders.settings(id, request.body)
        live.send({ event: 'probes', data: {} })
        return orderView(order, clock())
      },
    )
    app.post(
      '/probes/:id/commands',
      {
        schema: {
          summary: 'Send a probe a command, now or when it wakes',
          params: probeParam,
          body: commandInput,
          response: { 201: orderSchema },
        },
      },
      async (request, reply) => {
        const { id } = request.params
        const { what, withinS } = request.body
        await refuseStranger(id)
        const order = await orders.command(id, what, clock() + withinS * SECOND)
        live.send({ event: 'probes', data: {} })
        return reply.code(201).send(orderView(order, clock()))
      },
    )
  }
}
