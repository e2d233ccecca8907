import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import ical, { ICalCalendarMethod, ICalEventTransparency } from 'ical-generator'
import { daysAhead } from '../days-ahead.ts'
import type { ApiDeps } from '../deps.ts'

/** How often a calendar program may ask again, s. */
const REFRESH_S = 6 * 3600
/** Lines for the programs of one vendor; that a day is a whole one stands in the standard's own words beside them. */
const OF_ONE_VENDOR = /^X-(?!WR-|PUBLISHED-)[^\r\n]*\r\n/gm

/** What has a day as iCalendar (RFC 5545), for any calendar program to subscribe to. */
export function calendarRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, clock } = deps
  return async (app) => {
    app.get(
      '/calendar.ics',
      { schema: { summary: 'What is planned, as a calendar to subscribe to' } },
      async (_request, reply) => {
        const [{ name, language }, days] = await Promise.all([garden.garden(), daysAhead(deps)])
        const calendar = ical({
          name,
          prodId: { company: 'Loamline', product: 'hub', language: language.toUpperCase() },
          method: ICalCalendarMethod.PUBLISH,
          ttl: REFRESH_S,
        })
        for (const { key, since, day, summary, text } of days) {
          // All day, by the garden's own date: nobody limes at 14:30.
          calendar.createEvent({
            id: `${key}-${since.toString(36)}@loamline`,
            start: day,
            end: Temporal.PlainDate.from(day).add({ days: 1 }).toString(),
            allDay: true,
            stamp: new Date(clock()),
            transparency: ICalEventTransparency.TRANSPARENT,
            summary,
            description: text,
          })
        }
        return reply
          .type('text/calendar; charset=utf-8')
          .header('cache-control', 'no-cache')
          .send(calendar.toString().replaceAll(OF_ONE_VENDOR, ''))
      },
    )
  }
}
