import type { FastifyPluginAsync, FastifyReply, FastifyRequest } from 'fastify'
import { answer } from '../../sensorthings/answer.ts'
import { entitiesOf } from '../../sensorthings/entities.ts'
import { StaFault } from '../../sensorthings/fault.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, notFound } from '../problem.ts'
import { isEncrypted } from '../who.ts'

const PREFIX = '/sta/v1.1'
/** One route for all of it: an address of the standard is a path of any length. */
const ROUTE = '/sta/*'

/** The OGC SensorThings API 1.1, to read. */
export function sensorThingsRoutes(deps: ApiDeps): FastifyPluginAsync {
  const { readings, garden } = deps

  async function reply(request: FastifyRequest, response: FastifyReply): Promise<FastifyReply> {
    const site = `${isEncrypted(request) ? 'https' : 'http'}://${request.host}`
    const [whole = '', search = ''] = request.url.split(/\?(.*)/s)
    if (whole !== PREFIX && !whole.startsWith(`${PREFIX}/`)) throw notFound('address')
    const path = whole.slice(PREFIX.length)
    const [probes, channels, beds, spots, placements, calibrations] = await Promise.all([
      garden.probes(),
      garden.channels(),
      garden.beds({ retired: true }),
      garden.spots(),
      garden.placements(),
      garden.calibrations(),
    ])
    const records = { probes, channels, beds, spots, placements, calibrations }
    const sta = { entities: entitiesOf(records, site), readings, root: site + PREFIX }
    try {
      const found = await answer(sta, decoded(path), new URLSearchParams(search))
      if (found.kind === 'nothing') return await response.code(204).send()
      if (found.kind === 'text') {
        return await response.type('text/plain; charset=utf-8').send(found.body)
      }
      return await response
        .type('application/json; charset=utf-8')
        .header('cache-control', 'private, no-cache')
        .send(JSON.stringify(found.body))
    } catch (error) {
      if (error instanceof StaFault) throw new ApiProblem(error.status, error.message)
      throw error
    }
  }

  return async (app) => {
    app.get(
      '/sta/',
      { schema: { hide: true }, exposeHeadRoute: false },
      async (_request, response) => response.redirect(PREFIX),
    )
    app.get(ROUTE, { schema: { hide: true }, exposeHeadRoute: false }, reply)
    app.route({
      method: ['POST', 'PUT', 'PATCH', 'DELETE'],
      url: ROUTE,
      schema: { hide: true },
      handler: async (request, response) => {
        void response.header('allow', 'GET')
        throw new ApiProblem(405, `expected GET, got ${request.method}: this interface is to read`)
      },
    })
  }
}

function decoded(path: string): string {
  try {
    return decodeURIComponent(path)
  } catch {
    throw new StaFault(400, `expected an address that can be decoded, got '${path}'`)
  }
}
