import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import type { FastifyRequest } from 'fastify'
import { z } from 'zod'
import { acknowledge, remark, shelve, unshelve } from '../../alerts/operate.ts'
import type { Alarm, AlarmStep } from '../../model/alarm.ts'
import { DAY } from '../../model/clock.ts'
import type { ApiDeps } from '../deps.ts'
import { badValue, notFound } from '../problem.ts'
import {
  acknowledging,
  acknowledgingMany,
  type Alarm as AlarmView,
  alarm as alarmSchema,
  alarmQuery,
  alarmWithChanges,
  noting,
  shelving,
} from '../schemas/alarm.ts'
import { idParam } from '../schemas/common.ts'
import { alarmViews, changeView } from '../views/alarm.ts'
import { say } from '../../words/say.ts'
import { whoIs } from '../who.ts'

/** Alarms of one bed are picked out of so many: other beds' newer ones must not push them off the list. */
const LONGEST_LIST = 100_000
const MOST_CHANGES = 1000
/** What is set aside for longer should be taken out of use instead. */
const LONGEST_SHELF_MS = 366 * DAY

export function alarmRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, watch, clock } = deps

  async function views(alarms: readonly Alarm[]): Promise<AlarmView[]> {
    return alarmViews(alarms, await garden.beds({ retired: true }))
  }

  /** Does something with one alarm and answers with it as it is then. */
  async function operate(
    id: number,
    how: (alarm: Alarm, at: number) => AlarmStep | null,
  ): Promise<AlarmView> {
    const [alarm] = await watch.operate([id], how)
    if (alarm === null || alarm === undefined) throw notFound('alarm')
    return (await views([alarm]))[0]!
  }

  const handOf = (request: FastifyRequest, note: string) => ({ by: whoIs(request).name, note })

  return async (app) => {
    app.get(
      '/alarms',
      {
        schema: {
          summary: 'Alarms, newest first',
          querystring: alarmQuery,
          response: { 200: z.array(alarmSchema) },
        },
      },
      async (request) => {
        const { open, over, bed, kind, from, to, limit } = request.query
        const isPicked =
          over === 'true' || [bed, kind, from, to].some((asked) => asked !== undefined)
        const alarms =
          open === 'true'
            ? await garden.openAlarms()
            : await garden.alarms(isPicked ? LONGEST_LIST : limit)
        const chosen = alarms.filter(
          (a) =>
            (over === 'false' || a.state === 'normal') &&
            (bed === undefined || (a.bedId ?? 0) === bed) &&
            (kind === undefined || a.kind === kind) &&
            (from === undefined || a.raisedAt >= from) &&
            (to === undefined || a.raisedAt < to),
        )
        return views(chosen.slice(0, limit))
      },
    )
    app.get(
      '/alarms/:id',
      {
        schema: {
          summary: 'One alarm with everything that happened to it',
          params: idParam,
          response: { 200: alarmWithChanges },
        },
      },
      async (request) => {
        const { id } = request.params
        const [alarm, changes] = await Promise.all([
          garden.alarm(id),
          garden.alarmChanges({ alarmId: id, limit: MOST_CHANGES }),
        ])
        if (alarm === null) throw notFound('alarm')
        return { alarm: (await views([alarm]))[0]!, changes: changes.map(changeView) }
      },
    )
    app.post(
      '/alarms/:id/acknowledge',
      {
        schema: {
          summary: 'Say that you have seen an alarm',
          params: idParam,
          body: acknowledging,
          response: { 200: alarmSchema },
        },
      },
      async (request) =>
        operate(request.params.id, (alarm, at) =>
          acknowledge(alarm, at, handOf(request, request.body?.note ?? '')),
        ),
    )
    app.post(
      '/alarms/acknowledge',
      {
        schema: {
          summary: 'Say that you have seen several alarms, all of a bed at once',
          body: acknowledgingMany,
          response: { 200: z.array(alarmSchema) },
        },
      },
      async (request) => {
        const { ids, note } = request.body
        const done = await watch.operate(Array.from(new Set(ids)), (alarm, at) =>
          acknowledge(alarm, at, handOf(request, note)),
        )
        return views(done.flatMap((alarm) => alarm ?? []))
      },
    )
    app.post(
      '/alarms/:id/shelve',
      {
        schema: {
          summary: 'Keep an alarm out of sight and out of messages until a time',
          params: idParam,
          body: shelving,
          response: { 200: alarmSchema },
        },
      },
      async (request) => {
        const { until, note } = request.body
        const now = clock()
        if (!(until > now)) throw badValue('until', say`expected a time that lies ahead`)
        if (until > now + LONGEST_SHELF_MS) {
          throw badValue('until', say`expected a time within a year from now`)
        }
        return operate(request.params.id, (alarm, at) =>
          shelve(alarm, until, at, handOf(request, note)),
        )
      },
    )
    app.post(
      '/alarms/:id/unshelve',
      {
        schema: {
          summary: 'Bring an alarm back before its time is over',
          params: idParam,
          response: { 200: alarmSchema },
        },
      },
      async (request) =>
        operate(request.params.id, (alarm, at) => unshelve(alarm, at, handOf(request, ''))),
    )
    app.post(
      '/alarms/:id/notes',
      {
        schema: {
          summary: 'Write a note to an alarm',
          params: idParam,
          body: noting,
          response: { 200: alarmSchema },
        },
      },
      async (request) =>
        operate(request.params.id, (alarm, at) =>
          remark(alarm, request.body.note, at, whoIs(request).name),
        ),
    )
  }
}
