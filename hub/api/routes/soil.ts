import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { dosingOf } from '../../agronomy/dosing.ts'
import type { PlanningSettings } from '../../model/plan.ts'
import type { ApiDeps } from '../deps.ts'
import { badValue, notAhead, notFound } from '../problem.ts'
import { idParam } from '../schemas/common.ts'
import {
  planningSettings,
  soilInput,
  soilTestInput,
  soilTestView as testSchema,
} from '../schemas/planning.ts'
import { soilTestView } from '../views/soil-test.ts'
import { say } from '../../words/say.ts'

type TestBody = z.output<typeof soilTestInput>

/** What is known of the soil of a bed, and what the gardener settled for all plans. */
export function soilRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, live } = deps
  const edited = (bedId: number): void => live.send({ event: 'journal', data: { bedId } })

  return async (app) => {
    app.put(
      '/beds/:id/soil',
      {
        schema: {
          summary: 'What decides a dose and is not part of the bed',
          params: idParam,
          body: soilInput,
          response: { 200: soilInput },
        },
      },
      async (request) => {
        const bedId = request.params.id
        const stored = await garden.setBedSoil({ ...request.body, bedId })
        if (stored === null) throw notFound('bed')
        edited(bedId)
        const { bulkDensity, planting, hardWater } = stored
        return { bulkDensity, planting, hardWater }
      },
    )
    app.get(
      '/beds/:id/soil-tests',
      {
        schema: {
          summary: 'Tests of the soil of a bed, oldest first',
          params: idParam,
          response: { 200: z.array(testSchema) },
        },
      },
      async (request) => {
        if ((await garden.bed(request.params.id)) === null) throw notFound('bed')
        return (await garden.soilTests(request.params.id)).map(soilTestView)
      },
    )
    app.post(
      '/beds/:id/soil-tests',
      {
        schema: {
          summary: 'Write a test of the soil down',
          params: idParam,
          body: soilTestInput,
          response: { 201: testSchema },
        },
      },
      async (request, reply) => {
        const bedId = request.params.id
        if ((await garden.bed(bedId)) === null) throw notFound('bed')
        notAhead('at', request.body.at, deps.clock())
        check(request.body)
        const stored = await garden.addSoilTest({ ...request.body, bedId })
        edited(bedId)
        return reply.code(201).send(soilTestView(stored))
      },
    )
    app.delete(
      '/soil-tests/:id',
      {
        schema: {
          summary: 'Remove a test of the soil',
          params: idParam,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const found = (await garden.soilTests()).find(({ id }) => id === request.params.id)
        if (found === undefined) throw notFound('test of the soil')
        await garden.removeSoilTest(found.id)
        edited(found.bedId)
        return reply.code(204).send(null)
      },
    )
    app.get(
      '/planning-settings',
      {
        schema: {
          summary: 'Growing season, currency and prices',
          response: { 200: planningSettings },
        },
      },
      async () => copy(await garden.planningSettings()),
    )
    app.put(
      '/planning-settings',
      {
        schema: {
          summary: 'Set growing season, currency and prices, all together',
          body: planningSettings,
          response: { 200: planningSettings },
        },
      },
      async (request) => {
        const { season, prices, currency } = request.body
        for (const edge of ['from', 'to'] as const) {
          if (season !== null && !isDay(season[edge])) {
            throw badValue(
              `season.${edge}`,
              say`expected a day of the calendar, got ${season[edge]}`,
            )
          }
        }
        for (const [i, { material }] of prices.entries()) {
          if (dosingOf(material) === null) {
            throw badValue(
              `prices.${i}.material`,
              say`expected a material whose dose is known, got '${material}'`,
            )
          }
          if (prices.findIndex((other) => other.material === material) !== i) {
            throw badValue(`prices.${i}.material`, say`'${material}' has a price already`)
          }
        }
        if (currency === null && prices.length > 0) {
          throw badValue('currency', say`prices need a currency`)
        }
        const stored = await garden.setPlanningSettings(request.body)
        live.send({ event: 'beds', data: {} })
        return copy(stored)
      },
    )
  }
}

const copy = ({
  season,
  currency,
  prices,
}: PlanningSettings): z.output<typeof planningSettings> => ({
  season: season === null ? null : { ...season },
  currency,
  prices: prices.map((price) => ({ ...price })),
})

/** True for a day that some year has. */
function isDay(monthDay: string): boolean {
  try {
    Temporal.PlainMonthDay.from(monthDay, { overflow: 'reject' })
    return true
  } catch {
    return false
  }
}

/** What no schema can say of a test. */
function check(test: TestBody): void {
  if (test.kind === 'lime requirement' && test.toPh <= test.fromPh) {
    throw badValue(
      'toPh',
      say`expected more than ${test.fromPh}, the pH before the lime, got ${test.toPh}`,
    )
  }
  if (test.kind === 'jar test') {
    const amounts = new Set(test.jars.map(({ limeG }) => limeG))
    if (amounts.size < 3) {
      throw badValue('jars', say`expected at least three different amounts, got ${amounts.size}`)
    }
    const byLime = test.jars.toSorted((a, b) => a.limeG - b.limeG)
    const [least, most] = [byLime[0]!, byLime.at(-1)!]
    if (most.ph <= least.ph) {
      throw badValue(
        'jars',
        say`expected a higher pH where there is more lime, got ${most.ph} with ${most.limeG} g and ${least.ph} with ${least.limeG} g`,
      )
    }
  }
}
