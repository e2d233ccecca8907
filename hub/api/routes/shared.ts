import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import type { Bed } from '../../model/bed.ts'
import type { ApiDeps } from '../deps.ts'
import { notFound } from '../problem.ts'
import { keyParam, sharedBed } from '../schemas/account.ts'
import { bedSeries, seriesQuery } from '../schemas/bed.ts'
import { whoIs } from '../who.ts'
import { seriesOf, viewOf } from './beds.ts'

/** What a share link shows: one bed, to look at. The guard has looked at the link; here it only says which bed. */
export function sharedRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, accounts, clock } = deps

  async function bedOf(bedId: number | null): Promise<Bed> {
    const bed = bedId === null ? null : await garden.bed(bedId)
    // A bed out of use is not shown any more, by whatever link.
    if (bed === null || bed.retiredAt !== null) throw notFound('share link')
    return bed
  }
  return async (app) => {
    app.get(
      '/shared/:key',
      {
        schema: {
          summary: 'The bed of a share link',
          params: keyParam,
          response: { 200: sharedBed },
        },
      },
      async (request) => {
        const { bedId, keyId } = whoIs(request)
        const bed = await bedOf(bedId)
        const [view, { name, zone, units, language }] = await Promise.all([
          viewOf(deps, bed),
          garden.garden(),
        ])
        const key = accounts.keys.all('share').find(({ id }) => id === keyId)
        return {
          garden: { name, zone, units, language },
          name: view.name,
          crops: view.crops.map((crop) => crop.name),
          ph: view.ph,
          moisture: view.moisture,
          temperature: view.temperature,
          band: view.band,
          standing: view.standing,
          sentence: view.sentence,
          at: clock(),
          endsAt: key?.endsAt ?? null,
        }
      },
    )
    app.get(
      '/shared/:key/series',
      {
        schema: {
          summary: 'History of one quantity of the bed of a share link',
          params: keyParam,
          querystring: seriesQuery,
          response: { 200: bedSeries },
        },
      },
      async (request) => {
        const { bedId } = whoIs(request)
        // Spots name probes; whoever the link was given to has no business with those.
        return seriesOf(deps, () => bedOf(bedId), { ...request.query, spots: 'false' })
      },
    )
  }
}
