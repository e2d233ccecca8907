import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { compareEffects } from '../../analysis/amendment/compare-effects.ts'
import type { DoseEffect, EffectQuestion } from '../../analysis/amendment/dose-effect.ts'
import { eventSentence } from '../../analysis/event-words.ts'
import type { Bed } from '../../model/bed.ts'
import type { BedFacts } from '../../planning/bed-facts.ts'
import { reviewBed } from '../../planning/review.ts'
import { seasonReport } from '../../planning/season-report.ts'
import type { ApiDeps } from '../deps.ts'
import { bedFacts } from '../planning-facts.ts'
import { badValue, notFound } from '../problem.ts'
import { idParam } from '../schemas/common.ts'
import type { Comparison } from '../schemas/findings.ts'
import {
  gardenReview,
  reportQuery,
  seasonReport as reportSchema,
  type SeasonReportView,
} from '../schemas/review.ts'
import { CSV_TYPE } from '../tables.ts'
import { comparisonView } from '../views/comparison.ts'
import { planView } from '../views/plan.ts'
import { reportTable, reviewTable } from '../views/review-tables.ts'
import { bedReviewView, seasonReportView } from '../views/review.ts'
import { say } from '../../words/say.ts'

type Period = z.output<typeof reportQuery>

/** Looking back: what treatments did, and what a season was like. */
export function reviewRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden } = deps

  const allFacts = async (): Promise<BedFacts[]> =>
    Promise.all((await garden.beds()).map((bed) => bedFacts(deps, bed)))
  async function reportOf(facts: BedFacts, { from, to }: Period): Promise<SeasonReportView> {
    const [spots, beds] = await Promise.all([
      garden.spots(facts.bed.id),
      garden.beds({ retired: true }),
    ])
    const names = {
      spots: new Map(spots.map(({ id, name }) => [id, name])),
      beds: new Map(beds.map(({ id, name }) => [id, name])),
      journal: facts.journal,
    }
    const events = deps.watch
      .events(facts.bed.id)
      .map((event) => ({ at: event.onset, sentence: eventSentence(event, names) }))
    return seasonReportView(facts, seasonReport(facts, from, to, events))
  }
  async function bedOr404(id: number): Promise<Bed> {
    const bed = await garden.bed(id)
    if (bed === null) throw notFound('bed')
    return bed
  }
  async function oneReport(id: number, period: Period): Promise<SeasonReportView> {
    checkPeriod(period)
    return reportOf(await bedFacts(deps, await bedOr404(id)), period)
  }
  async function allReports(period: Period): Promise<SeasonReportView[]> {
    checkPeriod(period)
    return Promise.all((await allFacts()).map((facts) => reportOf(facts, period)))
  }

  return async (app) => {
    app.get(
      '/review',
      {
        schema: {
          summary: 'What every treatment did, what comes next, and the plans that run',
          response: { 200: gardenReview },
        },
      },
      async () => {
        const beds = await allFacts()
        return {
          at: deps.clock(),
          beds: beds.map((facts) => bedReviewView(facts, reviewBed(facts))),
          materials: comparisonOf(beds),
          plans: await Promise.all(
            beds.flatMap((facts) =>
              facts.plans
                .filter(({ closedAt }) => closedAt === null)
                .map(async (plan) => planView(facts, plan, await garden.photos(facts.bed.id))),
            ),
          ),
        }
      },
    )
    app.get(
      '/review.csv',
      { schema: { summary: 'The same as a table, one treatment a row' } },
      async (_request, reply) => {
        const [beds, { zone }] = await Promise.all([allFacts(), garden.garden()])
        const views = beds.map((facts) => bedReviewView(facts, reviewBed(facts)))
        return reply
          .type(CSV_TYPE)
          .header('content-disposition', 'attachment; filename="treatments.csv"')
          .send(reviewTable(views, zone))
      },
    )
    app.get(
      '/beds/:id/report',
      {
        schema: {
          summary: 'A bed over a period',
          params: idParam,
          querystring: reportQuery,
          response: { 200: reportSchema },
        },
      },
      async (request) => oneReport(request.params.id, request.query),
    )
    app.get(
      '/report',
      {
        schema: {
          summary: 'All beds in use over a period',
          querystring: reportQuery,
          response: { 200: z.array(reportSchema) },
        },
      },
      async (request) => allReports(request.query),
    )
    app.get(
      '/beds/:id/report.csv',
      {
        schema: {
          summary: 'A bed month by month as a table',
          params: idParam,
          querystring: reportQuery,
        },
      },
      async (request, reply) => {
        const report = await oneReport(request.params.id, request.query)
        const { zone } = await garden.garden()
        return reply
          .type(CSV_TYPE)
          .header('content-disposition', `attachment; filename="bed-${report.bedId}.csv"`)
          .send(reportTable([report], zone))
      },
    )
    app.get(
      '/report.csv',
      {
        schema: { summary: 'All beds month by month as a table', querystring: reportQuery },
      },
      async (request, reply) => {
        const [reports, { zone }] = await Promise.all([allReports(request.query), garden.garden()])
        return reply
          .type(CSV_TYPE)
          .header('content-disposition', 'attachment; filename="garden.csv"')
          .send(reportTable(reports, zone))
      },
    )
  }
}

/** Ten years of months are enough for a report. */
const LONGEST_MS = 3660 * 86_400_000

function checkPeriod({ from, to }: Period): void {
  if (to <= from) throw badValue('to', say`expected a time after 'from' (${from}), got ${to}`)
  if (to - from > LONGEST_MS) throw badValue('from', say`expected a period of at most ten years`)
}

/** Materials across all beds by one question, or they could not be compared: the one more treatments answer. */
function comparisonOf(beds: readonly BedFacts[]): Comparison {
  const all = beds.flatMap(({ bed, study }) =>
    (study?.effects ?? []).flatMap((effect) =>
      effect.answers.flatMap((answer) =>
        // Portions that went on together are one treatment with several entries.
        answer.ids[0] === effect.id ? { bed: bed.name, effect: answer } : [],
      ),
    ),
  )
  const question = answeredMost(all.map(({ effect }) => effect))
  return comparisonView(
    compareEffects(all.filter(({ effect }) => effect.question === question)),
    question,
  )
}

function answeredMost(effects: readonly DoseEffect[]): EffectQuestion {
  const answered = (question: EffectQuestion): number =>
    effects.filter((e) => e.question === question && e.verdict !== 'insufficient').length
  return answered('advantage over untreated') >= answered('above where it was')
    ? 'advantage over untreated'
    : 'above where it was'
}
