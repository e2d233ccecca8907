import type { Scope } from '../model/account.ts'

/**
 * What a request needs. `anyone`: nothing is told or changed that is not for everybody. `signed in`: a person, whatever
 * their role. `shared`: a share link that is good. `feed`: the right to read, or the secret of the feed address.
 */
export type Need = Scope | 'anyone' | 'signed in' | 'shared' | 'feed'

/** Every address by method and by what it needs; `tests/hub/api/access.test.ts` holds it complete. */
const TABLE: Readonly<Record<Need, readonly string[]>> = {
  anyone: [
    'GET /*',
    'GET /api/who',
    'POST /api/sign-in',
    // Refuses by itself who may not make the owner.
    'POST /api/owner',
  ],
  'signed in': ['POST /api/sign-out', 'PUT /api/password'],
  shared: ['GET /api/shared/:key', 'GET /api/shared/:key/series'],
  feed: ['GET /api/calendar.ics', 'GET /api/alarms.atom'],
  read: [
    'GET /metrics',
    'GET /sta/',
    'GET /sta/*',
    'GET /api/openapi.json',
    'GET /api/live',
    'GET /api/health',
    'GET /api/quarantine',
    'GET /api/garden',
    'GET /api/crops',
    'GET /api/textures',
    'GET /api/buffers',
    'GET /api/beds',
    'GET /api/beds/:id',
    'GET /api/beds/:id/findings',
    'GET /api/beds/:id/quality',
    'GET /api/beds/:id/series',
    'GET /api/beds/:id/journal',
    'GET /api/journal',
    'GET /api/ahead',
    'GET /api/beds/:id/photos',
    'GET /api/beds/:id/soil-tests',
    'GET /api/beds/:id/measuring',
    'GET /api/beds/:id/decision',
    'GET /api/beds/:id/plans',
    'GET /api/beds/:id/report',
    'GET /api/beds/:id/report.csv',
    'GET /api/journal/:id/photo',
    'GET /api/probes',
    'GET /api/losses',
    'GET /api/probes/:id',
    'GET /api/probes/:id/series',
    'GET /api/probes/:id/settling',
    'GET /api/probes/:id/electrode',
    'GET /api/trials',
    'GET /api/trials/:id',
    'GET /api/plans',
    'GET /api/planning-settings',
    'GET /api/review',
    'GET /api/review.csv',
    'GET /api/report',
    'GET /api/report.csv',
    'GET /api/alarms',
    'GET /api/jobs',
    'GET /api/storage',
    'GET /api/storage/thinning',
    'GET /api/damaged',
    'GET /api/damaged/:id/bytes',
    'GET /api/jobs/:id',
    'GET /api/alarms/:id',
    'GET /api/export/readings.csv',
    'GET /api/export/readings.lp',
    'GET /api/export/records/:table',
    // These work something out and keep nothing.
    'POST /api/beds/:id/measuring/check',
    'POST /api/beds/:id/plans/draft',
    'POST /api/probes/:id/calibrations/check',
    'POST /api/probes/:id/calibrations/effect',
    'POST /api/trials/plan',
    'POST /api/water-by-weight',
    'POST /api/import/look',
    'POST /api/import/check',
  ],
  enter: [
    'POST /api/beds/:id/journal',
    'PUT /api/journal/:id',
    'DELETE /api/journal/:id',
    'PUT /api/journal/:id/photo',
    'DELETE /api/journal/:id/photo',
    'POST /api/beds/:id/measuring',
  ],
  change: [
    'PUT /api/garden',
    'POST /api/beds',
    'PUT /api/beds/:id',
    'DELETE /api/beds/:id',
    'POST /api/beds/:id/spots',
    'PUT /api/spots/:id',
    'DELETE /api/spots/:id',
    'PUT /api/beds/:id/soil',
    'POST /api/beds/:id/soil-tests',
    'DELETE /api/soil-tests/:id',
    'PUT /api/planning-settings',
    'POST /api/beds/:id/plans',
    'POST /api/plans/:id/stages/:stage/done',
    'POST /api/plans/:id/close',
    'POST /api/probes',
    'PUT /api/probes/:id',
    'POST /api/probes/:id/placement',
    'POST /api/probes/:id/calibrations',
    'PUT /api/calibrations/:id',
    'DELETE /api/calibrations/:id',
    'PUT /api/probes/:id/settings',
    'POST /api/probes/:id/commands',
    'POST /api/probes/:id/password',
    'DELETE /api/probes/:id/password',
    'POST /api/trials',
    'POST /api/trials/:id/give-up',
    'DELETE /api/trials/:id',
    'POST /api/alarms/:id/acknowledge',
    'POST /api/alarms/:id/shelve',
    'POST /api/alarms/:id/unshelve',
    'POST /api/alarms/:id/notes',
    'POST /api/alarms/acknowledge',
    'POST /api/import/store',
    'POST /api/jobs',
    'POST /api/jobs/:id/cancel',
    'POST /api/storage/compact',
  ],
  own: [
    // Told that this is only to read.
    'POST /sta/*',
    'PUT /sta/*',
    'PATCH /sta/*',
    'DELETE /sta/*',
    'GET /api/backup.tar',
    // What is thinned does not come back.
    'PUT /api/storage/retention',
    'POST /api/storage/thin',
    // Bytes that are given up do not come back; a backup holds everything.
    'POST /api/damaged/:id/gone',
    'POST /api/damaged/bring-back',
    'GET /api/people',
    'POST /api/people',
    'PUT /api/people/:id',
    'DELETE /api/people/:id',
    'PUT /api/people/:id/password',
    'DELETE /api/sessions/:id',
    'GET /api/tokens',
    'POST /api/tokens',
    'DELETE /api/tokens/:id',
    'GET /api/shares',
    'POST /api/shares',
    'DELETE /api/shares/:id',
    'GET /api/feed-address',
    'POST /api/feed-address',
    'DELETE /api/feed-address',
    'GET /api/message-routes',
    'POST /api/message-routes',
    'PUT /api/message-routes/:id',
    'DELETE /api/message-routes/:id',
    'POST /api/message-routes/:id/pause',
    'POST /api/message-routes/:id/test',
    'POST /api/message-routes/:id/retry',
    'GET /api/messages',
    'GET /api/push-key',
  ],
}

const NEEDS = new Map(
  (Object.entries(TABLE) as [Need, readonly string[]][]).flatMap(([need, rows]) =>
    rows.map((row) => [row, need] as const),
  ),
)

/** What a route needs by its table row; null when it has none. HEAD tells no more than GET. */
export function rowFor(method: string, route: string): Need | null {
  return NEEDS.get(`${method === 'HEAD' ? 'GET' : method} ${route}`) ?? null
}

/** The same, where nothing is left open: what nobody thought of is the owner's alone. */
export function needFor(method: string, route: string | undefined): Need {
  // No route: one of the dashboard's own addresses, or a file that is not there.
  if (route === undefined) return 'anyone'
  // Other methods at an address of the API: told which ones it has.
  if (route === '/api/*') return 'read'
  return rowFor(method, route) ?? 'own'
}

/** Every row, for the test that holds the table against the routes. */
export const ROWS: readonly string[] = [...NEEDS.keys()]
