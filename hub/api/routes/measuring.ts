import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import {
  HAND_PROTOCOLS,
  HAND_SPOTS,
  handStepText,
  WATER_LESS_CACL2,
} from '../../agronomy/hand-measuring.ts'
import { sourceById } from '../../agronomy/sources.ts'
import { type HandResult, handResult, spotsFor } from '../../analysis/measure/hand-session.ts'
import type { Bed } from '../../model/bed.ts'
import type { NewJournalEntry } from '../../model/journal.ts'
import type { ApiDeps } from '../deps.ts'
import { journalEdited } from '../journal-edited.ts'
import { notAhead, notFound } from '../problem.ts'
import { idParam } from '../schemas/common.ts'
import { entry } from '../schemas/journal.ts'
import {
  handResultView,
  handSession,
  handValues,
  measuringPlan,
  measuringQuery,
  type HandResultView,
} from '../schemas/measuring.ts'
import { onceHeaders, sentWith, storedBefore, storeOnce } from '../sent-once.ts'
import { finite } from '../views/column.ts'
import { whoIs } from '../who.ts'
import { fixed, localized } from '../../words/figure.ts'
import { language, said, say } from '../../words/say.ts'

/** Probes that have told of fewer spots say little of how far spots lie apart. */
const LEAST_PROBED_SPOTS = 3

function cacl2Words(): string {
  const { about, low, high, sources } = WATER_LESS_CACL2
  const by = sources.map((id) => sourceById(id).publisher).join('; ')
  return say`Calcium chloride has a scale of its own, about ${about} pH below water (${low} to ${high} in most soils: ${by}). Its values are kept apart and never turned into the other scale.`
}

/** Measuring a bed by hand: how many spots, how, and what the values come to. */
export function measuringRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, clock } = deps

  async function bedOr404(id: number): Promise<Bed> {
    const bed = await garden.bed(id)
    if (bed === null) throw notFound('bed')
    return bed
  }
  /** How far spots of the bed lie apart, and how that is known. */
  function spread(bed: Bed): { sd: number; words: string } {
    const needed = deps.watch.latest(bed.id)?.study?.days.needed
    return needed === undefined || needed.spots < LEAST_PROBED_SPOTS
      ? {
          sd: HAND_SPOTS.usualSd,
          words: say`how far spots of ${bed.name} lie apart is not known, taken is a standard deviation of ${HAND_SPOTS.usualSd} pH`,
        }
      : {
          sd: needed.spotSd,
          words: say`by the probes of ${bed.name} its spots lie apart by ${fixed(needed.spotSd, 2)} pH (standard deviation)`,
        }
  }
  const viewOf = ({ sd: _sd, ...result }: HandResult): HandResultView => ({
    ...result,
    standardError: finite(result.standardError),
    halfWidth: finite(result.halfWidth),
    source: say`mean: ${sourceById('CONYERS2026').publisher}; number of spots: ${sourceById(HAND_SPOTS.source).publisher}`,
  })

  return async (app) => {
    app.get(
      '/beds/:id/measuring',
      {
        schema: {
          summary: 'How many spots of a bed to measure by hand, and how',
          params: idParam,
          querystring: measuringQuery,
          response: { 200: measuringPlan },
        },
      },
      async (request) => {
        const bed = await bedOr404(request.params.id)
        const { wanted } = request.query
        const { sd, words } = spread(bed)
        const spots = spotsFor(sd, wanted)
        const { low, high, areaM2, source } = HAND_SPOTS.perArea
        const byArea = (of: number): number => Math.max(2, Math.round((of * bed.areaM2) / areaM2))
        return {
          wanted,
          spots,
          spotSd: sd,
          sentence: say`About ${spots} spots for ± ${wanted} pH: ${words}. By its area alone usual advice is ${byArea(low)} to ${byArea(high)} (${sourceById(source).publisher}). After three values the page reckons with your own.`,
          scales: cacl2Words(),
          protocols: HAND_PROTOCOLS.map((protocol) => ({
            methods: [...protocol.methods],
            sources: protocol.sources.map((id) => sourceById(id).publisher),
            steps: protocol.steps.map((step) => ({
              title: said(step.title),
              text: handStepText(step),
              waitS: step.waitS,
            })),
          })),
        }
      },
    )
    app.post(
      '/beds/:id/measuring/check',
      {
        schema: {
          summary: 'What values from several spots come to; nothing is stored',
          params: idParam,
          body: handValues,
          response: { 200: handResultView },
        },
      },
      async (request) => {
        const bed = await bedOr404(request.params.id)
        const { values, wanted } = request.body
        return viewOf(handResult(values, { wanted, usualSd: spread(bed).sd }))
      },
    )
    app.post(
      '/beds/:id/measuring',
      {
        schema: {
          summary: 'Write the values of several spots down as one sample in the journal',
          params: idParam,
          headers: onceHeaders,
          body: handSession,
          response: { 201: entry },
        },
      },
      async (request, reply) => {
        const sent = sentWith(request, clock())
        const before = await storedBefore(garden, sent)
        if (before !== null) return reply.code(201).send({ ...before })
        const bed = await bedOr404(request.params.id)
        const { at, method, values, wanted, text } = request.body
        notAhead('at', at, clock())
        const { mean, n, standardError } = handResult(values, {
          wanted,
          usualSd: spread(bed).sd,
        })
        const list = values
          .map((value) => localized(String(value)))
          .join(language() === 'en' ? ', ' : '; ')
        const spots =
          n === 1
            ? say`One spot: ${list}.`
            : say`Mean of ${n} spots: ${list}, standard error ${fixed(standardError, 2)}.`
        const made: NewJournalEntry = {
          bedId: bed.id,
          at,
          kind: 'sample',
          material: null,
          amountG: null,
          waterL: null,
          probe: null,
          ph: Math.round(mean * 100) / 100,
          method,
          text: text.trim() === '' ? spots : `${spots} ${text.trim()}`,
          by: whoIs(request).name,
        }
        const { entry: stored, again } = await storeOnce(garden, made, sent)
        if (!again) journalEdited(deps, stored.bedId, stored.at)
        return reply.code(201).send({ ...stored })
      },
    )
  }
}
