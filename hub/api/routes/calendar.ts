import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import ical, { ICalCalendarMethod, ICalEventTransparency } from 'ical-generator'
import { DAY } from '../../model/clock.ts'
import { plannedDays } from '../../planning/dates.ts'
import type { ApiDeps } from '../deps.ts'
import { bedFacts } from '../planning-facts.ts'
import { zonedDay } from '../tables.ts'

/** How often a calendar program may ask again, s. */
const REFRESH_S = 6 * 3600
/** Lines for the programs of one vendor; that a day is a whole one stands in the standard's own words beside them. */
const OF_ONE_VENDOR = /^X-(?!WR-|PUBLISHED-)[^\r\n]*\r\n/gm

/** Days of plans and trials as iCalendar (RFC 5545), for any calendar program to subscribe to. */
export function calendarRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, clock } = deps
  return async (app) => {
    app.get(
      '/calendar.ics',
      { schema: { summary: 'What is planned, as a calendar to subscribe to' } },
      async (_request, reply) => {
        const at = clock()
        const [{ name, zone }, beds, trials] = await Promise.all([
          garden.garden(),
          garden.beds(),
          garden.trials(),
        ])
        const facts = await Promise.all(beds.map((bed) => bedFacts(deps, bed)))
        const calendar = ical({
          name,
          prodId: { company: 'Loamline', product: 'hub', language: 'EN' },
          method: ICalCalendarMethod.PUBLISH,
          ttl: REFRESH_S,
        })
        // All day, by the garden's own date: nobody limes at 14:30. `since` tells the gardens of two hubs apart.
        const add = (
          key: string,
          since: number,
          day: string,
          summary: string,
          description: string,
        ): void => {
          calendar.createEvent({
            id: `${key}-${since.toString(36)}@loamline`,
            start: day,
            end: Temporal.PlainDate.from(day).add({ days: 1 }).toString(),
            allDay: true,
            stamp: new Date(at),
            transparency: ICalEventTransparency.TRANSPARENT,
            summary,
            description,
          })
        }
        const createdAt = new Map(beds.map((bed) => [bed.id, bed.createdAt]))
        for (const { key, bedId, day, summary, text } of plannedDays(facts)) {
          add(key, createdAt.get(bedId)!, day, summary, text)
        }
        for (const trial of trials) {
          const endsAt = trial.startsAt + trial.days * DAY
          if (trial.givenUpAt !== null || endsAt < at) continue
          add(
            `trial-${trial.id}-end`,
            trial.createdAt,
            zonedDay(endsAt, zone),
            `Trial ends: ${trial.claim}`,
            `What ${trial.material} did is judged from today on; see the page of trials.`,
          )
        }
        return reply
          .type('text/calendar; charset=utf-8')
          .header('cache-control', 'no-cache')
          .send(calendar.toString().replaceAll(OF_ONE_VENDOR, ''))
      },
    )
  }
}
