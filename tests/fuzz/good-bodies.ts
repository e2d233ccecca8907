import { DAY } from '#hub/model/clock.ts'
import type { ImportMapInput } from '#hub/api/schemas/transfer.ts'
import { DECIDED_AT } from '../support/planned-garden.ts'

const route = {
  name: 'Kitchen',
  on: true,
  linkBase: 'http://hub.example:8090',
  target: {
    way: 'webhook',
    url: 'https://hooks.example/garden',
    privateAllowed: false,
    key: 'k'.repeat(20),
  },
  kinds: null,
  beds: null,
  leastPriority: 'low',
  tells: 'ended',
  gatherMin: 5,
  digestAt: '07:00',
  atOnceFrom: 'high',
  quiet: { from: '22:00', to: '07:00', letThrough: 'high' },
  repeatMin: null,
  escalate: null,
  mostPerHour: 6,
}
const mail = {
  ...route,
  target: {
    way: 'e-mail',
    to: 'beds@garden.example',
    from: 'hub@garden.example',
    host: 'mail.garden.example',
    port: 587,
    security: 'starttls',
    anyCertificate: false,
    user: 'hub',
    password: 'a password',
  },
}
const electrode = {
  kind: 'electrode',
  channel: 'phmv',
  at: DECIDED_AT - DAY,
  points: [
    { ph: 4, emfMv: 171 },
    { ph: 7, emfMv: 3 },
  ],
  temperatureC: 20,
  note: 'in the shed',
}
const moisture = {
  kind: 'moisture',
  channel: 'm',
  at: DECIDED_AT - DAY,
  dryRaw: 800,
  wetRaw: 350,
  soilPoints: [],
  note: '',
}
const trial = {
  claim: 'ash raises',
  direction: 'raises',
  material: 'wood ash',
  leastEffect: 0.3,
  treated: [1],
  untreated: [2],
  startsAt: DECIDED_AT,
  days: 120,
}

/** Bodies that a schema alone hardly ever makes by chance, by operation. */
export const GOOD_BODIES: Readonly<Record<string, readonly unknown[]>> = {
  'POST /api/message-routes': [route, mail, { ...route, target: { way: 'mqtt', retain: true } }],
  'PUT /api/message-routes/{id}': [route, mail],
  'POST /api/message-routes/{id}/pause': [{ until: DECIDED_AT + DAY }, { until: null }],
  'POST /api/probes/{id}/calibrations': [electrode, moisture],
  'PUT /api/calibrations/{id}': [electrode, moisture],
  'POST /api/probes/{id}/calibrations/check': [electrode, moisture],
  'POST /api/probes/{id}/calibrations/effect': [electrode, moisture],
  'POST /api/water-by-weight': [
    { tinG: 50, wetG: 200, dryG: 170, volumeCm3: 100, bulkDensity: null },
  ],
  'POST /api/trials': [trial],
  'POST /api/trials/plan': [trial],
  'POST /api/beds/{id}/plans/draft': [{ material: 'ground-limestone' }],
  'POST /api/beds/{id}/plans': [{ material: 'ground-limestone' }],
}

const TIME = { column: 'time', format: 'iso', zone: 'UTC' } as const
const PH = { column: 'ph', channel: 'ph', unit: '', senses: null }
/** Maps of files to import. */
export const GOOD_MAPS: readonly ImportMapInput[] = [
  {
    layout: 'wide',
    delimiter: ',',
    decimal: '.',
    headings: true,
    time: TIME,
    probe: { column: 'probe' },
    channels: [PH],
  },
  {
    layout: 'long',
    delimiter: ',',
    decimal: '.',
    headings: true,
    time: TIME,
    probe: { id: 'her1' },
    channels: [],
    channelColumn: 'probe',
    valueColumn: 'ph',
    unitColumn: null,
  },
  { layout: 'lines', precision: 'ms', probe: { column: 'probe' }, channels: [PH] },
]
/** Files that they can read. */
export const GOOD_FILES: readonly string[] = [
  'time,probe,ph\n2026-05-01T06:15:00Z,kes1,6.5\n2026-05-01T06:30:00Z,kes1,6.4\n',
  'reading,probe=kes1 ph=6.5 1777616100000\n',
]
/** The first bytes of a picture, which is all the hub looks at. */
export const PICTURE = Buffer.from('\x89PNG\r\n\x1a\n and then something', 'latin1')
