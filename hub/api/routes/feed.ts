import { Feed } from 'feed'
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { nameUuid } from '../../delivery/name-uuid.ts'
import { KIND_WORDS } from '../../alerts/kind-words.ts'
import { STATE_WORDS } from '../../delivery/words/state-words.ts'
import type { Alarm, AlarmChange } from '../../model/alarm.ts'
import { alarmSaid } from '../../words/alarm-said.ts'
import { language, said, say } from '../../words/say.ts'
import type { ApiDeps } from '../deps.ts'

/** Episodes in the feed, the newest ones. */
const ENTRIES = 50
/** Changes of an alarm's state; other words or a note are none. */
const OF_STATE = new Set<AlarmChange['what']>(['raised', 'acknowledged', 'returned', 'closed'])

/** What XML 1.0 cannot hold, whatever a probe sent. */
const forXml = (text: string): string => text.replaceAll(/[^\P{C}\n]/gu, ' ')

/** The same for what a reader takes for HTML: a name is a name, whatever signs are in it. */
const forReader = (text: string): string =>
  forXml(text).replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;')

/** Alarms as an Atom feed (RFC 4287): an entry an episode, its id for ever, `updated` when its state changes. */
export function feedRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, messages } = deps
  const idOf = (name: string): string => `urn:uuid:${nameUuid(messages.hubId, name)}`

  async function updatedAt(alarm: Alarm): Promise<number> {
    const changes = await garden.alarmChanges({ alarmId: alarm.id, limit: 1000 })
    const last = changes.findLast(({ what }) => OF_STATE.has(what))
    // Episodes of older versions have no kept changes.
    return last?.at ?? Math.max(alarm.raisedAt, alarm.acknowledgedAt ?? 0, alarm.returnedAt ?? 0)
  }

  return async (app) => {
    app.get(
      '/alarms.atom',
      {
        schema: {
          summary: 'Alarms, as an Atom feed to subscribe to',
          description: 'With `?key=` and the secret of the feed address it needs no sign-in.',
        },
      },
      async (request, reply) => {
        const [{ name }, beds, all] = await Promise.all([
          garden.garden(),
          garden.beds({ retired: true }),
          garden.alarms(ENTRIES),
        ])
        const alarms = all.filter(({ shelvedUntil }) => shelvedUntil === null)
        const times = await Promise.all(alarms.map(updatedAt))
        const base = `${request.protocol}://${request.host}`
        const feed = new Feed({
          id: idOf('alarms'),
          title: forXml(say`Alarms of ${name}`),
          updated: new Date(Math.max(deps.hub().startedAt, ...times)),
          link: `${base}/alarms`,
          feedLinks: { atom: `${base}/api/alarms.atom` },
          language: language(),
          generator: 'Loamline',
          author: { name: forXml(name) },
        })
        for (const [i, alarm] of alarms.map(alarmSaid).entries()) {
          const bed = beds.find(({ id }) => id === alarm.bedId)?.name ?? alarm.subject
          const kind = said(KIND_WORDS[alarm.kind])
          const state = said(STATE_WORDS[alarm.state])
          feed.addItem({
            id: idOf(`alarm-${alarm.id}`),
            title: forReader(bed === '' ? say`${kind}: ${state}` : say`${bed}, ${kind}: ${state}`),
            link: alarm.bedId === null ? `${base}/alarms` : `${base}/bed/${alarm.bedId}`,
            published: new Date(alarm.raisedAt),
            date: new Date(times[i]!),
            description: forReader(`${alarm.sentence} ${alarm.advice}`),
          })
        }
        return reply
          .type('application/atom+xml; charset=utf-8')
          .header('cache-control', 'no-cache')
          .send(feed.atom1())
      },
    )
  }
}
