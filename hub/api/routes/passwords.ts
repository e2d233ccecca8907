import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, notFound } from '../problem.ts'
import { probeAccess, probeSetup as setupSchema } from '../schemas/access.ts'
import { probeParam } from '../schemas/common.ts'
import { brokerFor, probeSetup } from '../views/probe-setup.ts'
import { say } from '../../words/say.ts'

/** Passwords of probes: made, renewed, taken away. None is ever read back. */
export function passwordRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, access, live } = deps

  async function ownProbe(id: string): Promise<string> {
    const probe = await garden.probe(id)
    if (probe === null) throw notFound('probe')
    if (probe.adoptedAt === null) {
      throw new ApiProblem(409, say`take '${id}' in before it gets a password`)
    }
    return id
  }

  return async (app) => {
    app.post(
      '/probes/:id/password',
      {
        schema: {
          summary: 'Make a new password for a probe; the one before stops working',
          description:
            'The answer holds the password and is the only place where it ever is. A probe that is connected ' +
            'to the built-in broker is disconnected.',
          params: probeParam,
          body: z.null().optional(),
          response: { 201: setupSchema },
        },
      },
      async (request, reply) => {
        const id = await ownProbe(request.params.id)
        const password = await access.make(id)
        live.send({ event: 'probes', data: {} })
        void reply.header('cache-control', 'no-store')
        return reply
          .code(201)
          .send(probeSetup(id, password, brokerFor(access.broker, request.hostname)))
      },
    )
    app.delete(
      '/probes/:id/password',
      {
        schema: {
          summary: 'Take a probe’s password away: nothing is let in under its id',
          params: probeParam,
          response: { 200: probeAccess },
        },
      },
      async (request) => {
        const id = await ownProbe(request.params.id)
        if (access.of(id).password === 'none') {
          throw new ApiProblem(409, say`'${id}' has no password to take away`)
        }
        await access.revoke(id)
        live.send({ event: 'probes', data: {} })
        return access.of(id)
      },
    )
  }
}
