import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { amendmentOf } from '../../agronomy/amendments.ts'
import type { JournalEntry, NewJournalEntry } from '../../model/journal.ts'
import type { ApiDeps } from '../deps.ts'
import { journalEdited } from '../journal-edited.ts'
import { ApiProblem, badValue, notAhead, notFound } from '../problem.ts'
import { idParam } from '../schemas/common.ts'
import { entry, entryInput, journalQuery } from '../schemas/journal.ts'
import { onceHeaders, sentWith, storedBefore, storeOnce } from '../sent-once.ts'
import { whoIs } from '../who.ts'
import { said, say } from '../../words/say.ts'

type Body = z.output<typeof entryInput>

/** Only the members that belong to the kind; whatever else a form sent along is not kept. */
function toEntry(bedId: number, body: Body): NewJournalEntry {
  const only = <T>(kind: Body['kind'], value: T): T | null => (body.kind === kind ? value : null)
  return {
    bedId,
    at: body.at,
    kind: body.kind,
    material: only('treatment', body.material),
    amountG: only('treatment', body.amountG),
    waterL: only('irrigation', body.waterL),
    probe: only('service', body.probe),
    ph: only('sample', body.ph),
    method: only('sample', body.method),
    text: body.text,
  }
}

export function journalRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden } = deps

  /** What cannot be written down like this, whatever the schema says. */
  async function check({ at, kind, probe }: Body): Promise<void> {
    notAhead('at', at, deps.clock())
    // A visit to a probe explains its jumps: a misspelt id would explain nothing.
    if (kind === 'service' && probe !== null && (await garden.probe(probe)) === null) {
      throw badValue('probe', say`expected a probe the hub has heard of, got '${probe}'`)
    }
  }
  /** A portion of a plan stays one: what its plan says next rests on it. */
  async function checkPortion(old: JournalEntry, { kind, material }: Body): Promise<void> {
    const plan = (await garden.plans(old.bedId)).find(({ stages }) =>
      stages.some(({ entryId }) => entryId === old.id),
    )
    if (plan === undefined) return
    if (kind === 'treatment' && amendmentOf(material ?? '')?.slug === plan.material) return
    throw new ApiProblem(
      409,
      say`this entry is a portion of a plan of ${said(old.material ?? '')}; to make it something else, remove it and write a new one`,
    )
  }
  async function find(id: number): Promise<JournalEntry> {
    const found = await garden.entry(id)
    if (found === null) throw notFound('journal entry')
    return found
  }

  return async (app) => {
    app.get(
      '/beds/:id/journal',
      {
        schema: {
          summary: "A bed's journal, oldest first",
          params: idParam,
          querystring: journalQuery,
          response: { 200: z.array(entry) },
        },
      },
      async (request) => {
        if ((await garden.bed(request.params.id)) === null) throw notFound('bed')
        const { from, to } = request.query
        const rows = await garden.journal({
          bedId: request.params.id,
          ...(from === undefined ? {} : { from }),
          ...(to === undefined ? {} : { to }),
        })
        return rows.map((r) => ({ ...r }))
      },
    )
    app.post(
      '/beds/:id/journal',
      {
        schema: {
          summary: 'Write in the journal',
          params: idParam,
          headers: onceHeaders,
          body: entryInput,
          response: { 201: entry },
        },
      },
      async (request, reply) => {
        const sent = sentWith(request, deps.clock())
        const before = await storedBefore(garden, sent)
        if (before !== null) return reply.code(201).send({ ...before })
        if ((await garden.bed(request.params.id)) === null) throw notFound('bed')
        await check(request.body)
        const made = { ...toEntry(request.params.id, request.body), by: whoIs(request).name }
        const { entry: stored, again } = await storeOnce(garden, made, sent)
        if (!again) journalEdited(deps, stored.bedId, stored.at)
        return reply.code(201).send({ ...stored })
      },
    )
    app.put(
      '/journal/:id',
      {
        schema: {
          summary: 'Change a journal entry',
          params: idParam,
          body: entryInput,
          response: { 200: entry },
        },
      },
      async (request) => {
        const old = await find(request.params.id)
        await check(request.body)
        await checkPortion(old, request.body)
        const stored = await garden.changeEntry(old.id, {
          ...toEntry(old.bedId, request.body),
          by: old.by ?? null,
        })
        if (stored === null) throw notFound('journal entry')
        journalEdited(deps, stored.bedId, Math.min(old.at, stored.at))
        return { ...stored }
      },
    )
    app.delete(
      '/journal/:id',
      {
        schema: {
          summary: 'Remove a journal entry',
          params: idParam,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const old = await find(request.params.id)
        await garden.removeEntry(old.id)
        journalEdited(deps, old.bedId, old.at)
        return reply.code(204).send(null)
      },
    )
  }
}
