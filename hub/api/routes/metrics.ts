import type { FastifyPluginAsync } from 'fastify'
import { Counter, Gauge, Registry } from 'prom-client'
import { HubError } from '../../errors.ts'
import { diskForecast } from '../../alerts/disk-forecast.ts'
import { toInside } from '../../analysis/measure/units.ts'
import type { ApiDeps } from '../deps.ts'
import { latestUntil } from '../../store/latest-until.ts'
import { healthNow } from './health.ts'
import { viewOf } from './beds.ts'

/**
 * How the hub is and what its beds and probes read, for a collector: OpenMetrics 1.0 text. Units stand in the names,
 * base units of OpenMetrics (seconds, volts, celsius, ratio); a value that is not known has no line.
 */
export function metricsRoutes(deps: ApiDeps): FastifyPluginAsync {
  return async (app) => {
    app.get(
      '/metrics',
      { schema: { hide: true }, exposeHeadRoute: false },
      async (_request, reply) => {
        const text = await metricsNow(deps)
        return reply
          .type(Registry.OPENMETRICS_CONTENT_TYPE)
          .header('cache-control', 'private, no-cache')
          .send(text)
      },
    )
  }
}

type Labels = Readonly<Record<string, string>>
type Rows = readonly (readonly [labels: Labels, value: number | null])[]

async function metricsNow(deps: ApiDeps): Promise<string> {
  const registry = new Registry<typeof Registry.OPENMETRICS_CONTENT_TYPE>()
  registry.setContentType(Registry.OPENMETRICS_CONTENT_TYPE)
  function gauge(name: string, help: string, rows: Rows | number | null): void {
    const all: Rows = typeof rows === 'object' && rows !== null ? rows : [[{}, rows]]
    const known = all.filter(([, value]) => value !== null && Number.isFinite(value))
    if (known.length === 0) return
    const labelNames = Object.keys(known[0]![0])
    const made = new Gauge({ name: `loamline_${name}`, help, labelNames, registers: [registry] })
    for (const [labels, value] of known) made.set({ ...labels }, value!)
  }
  function counter(name: string, help: string, value: number): void {
    new Counter({ name: `loamline_${name}_total`, help, registers: [registry] }).inc(value)
  }

  const now = deps.clock()
  const health = await healthNow(deps)
  const { rounds } = deps.watch.state()
  const up = (state: string): number => (state === 'up' ? 1 : 0)
  const ago = (at: number | null): number | null => (at === null ? null : (now - at) / 1000)

  gauge('healthy', 'Whether everything in the hub works: 1 or 0.', health.status === 'ok' ? 1 : 0)
  gauge('version', 'The version that runs; always 1.', [[{ version: health.version }, 1]])
  gauge('start_time_seconds', 'When the hub started, since 1970.', health.startedAt / 1000)
  gauge('broker_up', 'Whether the hub has its MQTT broker: 1 or 0.', up(health.broker.state))
  gauge('store_up', 'Whether readings can be stored: 1 or 0.', up(health.store.state))
  const { influx } = health
  if (influx !== null && influx !== undefined) {
    gauge('influx_up', 'Whether readings get to InfluxDB: 1 or 0.', up(influx.state))
    gauge('influx_waiting_readings', 'Readings on their way to InfluxDB.', influx.waiting)
    gauge('influx_refused_readings', 'Readings InfluxDB does not take.', influx.refused)
  }
  gauge(
    'evaluation_age_seconds',
    'Time since beds were last looked at.',
    ago(health.evaluation.lastAt),
  )
  gauge(
    'evaluation_ok',
    'Whether beds can be looked at: 1 or 0.',
    health.evaluation.problem === null ? 1 : 0,
  )
  counter('rule_runs', 'Runs of all rules over one bed since the hub started.', rounds)
  gauge('live_pages', 'Pages that listen at the moment.', deps.live.readers())
  const { disk } = health
  gauge('disk_free_bytes', 'Free space where the data are.', disk?.freeBytes ?? null)
  gauge('disk_size_bytes', 'Size of the disk the data are on.', disk?.totalBytes ?? null)
  gauge(
    'data_folder_bytes',
    'Everything in the data folder.',
    (await deps.hub().folderBytes?.()) ?? null,
  )
  // When the store is away these would be zeros that are not true.
  if (health.store.state === 'up') {
    const { counts } = health
    counter('readings', 'Readings kept, each once.', counts.readings)
    counter('readings_repeated', 'Arrivals of a reading that was kept already.', counts.duplicates)
    counter('messages_quarantined', 'Messages that nobody could use.', counts.quarantined)
    counter(
      'messages_quarantine_dropped',
      'Of these: not kept any more, to make room for newer ones.',
      counts.quarantineDropped,
    )
    gauge('readings_lost', 'Readings their probes no longer hold.', counts.lost)
    gauge(
      'readings_damaged',
      'Readings that were found damaged on the disk and are not settled.',
      counts.damaged,
    )
    gauge('probes', 'Probes by whether they were adopted.', [
      [{ adopted: 'yes' }, counts.probes],
      [{ adopted: 'no' }, counts.strangers],
    ])
  }
  try {
    await gardenMetrics(deps, now, gauge)
  } catch (error) {
    // How the hub is must be told above all when its store is away.
    if (!(error instanceof HubError)) throw error
  }
  return registry.metrics()
}

async function gardenMetrics(
  deps: ApiDeps,
  now: number,
  gauge: (name: string, help: string, rows: Rows) => void,
): Promise<void> {
  const { garden, readings } = deps
  const [beds, probes, channels, latest, alarms, messages, routes, days] = await Promise.all([
    garden.beds(),
    garden.probes(),
    garden.channels(),
    latestUntil(readings, now),
    garden.openAlarms(),
    garden.openMessages(),
    garden.routes(),
    garden.storageDays(),
  ])
  const forecast = diskForecast(days, now)
  if (forecast.status === 'ok') {
    gauge('disk_growth_bytes_per_day', 'How fast the free space falls.', [
      [{}, forecast.disk.value],
    ])
    const { fullAt } = forecast
    gauge('disk_full_time_seconds', 'When the disk is full at this pace, since 1970.', [
      [{}, fullAt === null ? null : fullAt / 1000],
    ])
  }
  const tally = (of: readonly Labels[]): Rows => {
    const counts = new Map<string, readonly [Labels, number]>()
    for (const labels of of) {
      const key = JSON.stringify(labels)
      counts.set(key, [labels, (counts.get(key)?.[1] ?? 0) + 1])
    }
    return [...counts.values()]
  }
  gauge(
    'alarms_open',
    'Alarms that are not normal, by kind and state.',
    tally(alarms.map(({ kind, state }) => ({ kind, state }))),
  )
  gauge(
    'messages_waiting',
    'Messages on their way, by route.',
    routes.map((route): readonly [Labels, number] => [
      { route: route.name },
      messages.filter(({ routeId }) => routeId === route.id).length,
    ]),
  )

  const views = await Promise.all(beds.map((bed) => viewOf(deps, bed)))
  const ofBeds = (of: 'ph' | 'moisture' | 'temperature'): Rows =>
    views.map((bed) => {
      const present = bed[of]
      return [
        { bed_id: String(bed.id), bed: bed.name },
        present.status === 'ok' ? present.value : null,
      ]
    })
  gauge('bed_soil_ph', 'Soil pH of a bed.', ofBeds('ph'))
  gauge('bed_soil_moisture_ratio', 'Soil moisture of a bed, 0 to 1.', ofBeds('moisture'))
  gauge('bed_soil_temperature_celsius', 'Soil temperature of a bed.', ofBeds('temperature'))

  const ofSpots = (value: (spot: (typeof views)[number]['spots'][number]) => number | null): Rows =>
    views.flatMap((bed) =>
      bed.spots.flatMap((spot): Rows =>
        spot.probe === null
          ? []
          : [[{ probe: spot.probe, bed: bed.name, spot: spot.spot }, value(spot)]],
      ),
    )
  gauge(
    'probe_soil_ph',
    'Soil pH at a probe.',
    ofSpots(({ ph }) => ph),
  )
  gauge(
    'probe_soil_moisture_ratio',
    'Soil moisture at a probe, 0 to 1.',
    ofSpots(({ moisture }) => moisture),
  )
  gauge(
    'probe_soil_temperature_celsius',
    'Soil temperature at a probe.',
    ofSpots(({ temperatureC }) => temperatureC),
  )

  const own = probes.filter(({ adoptedAt }) => adoptedAt !== null)
  const labelsOf = (probe: (typeof own)[number]): Labels => ({ probe: probe.id, name: probe.name })
  gauge(
    'probe_last_seen_age_seconds',
    'Time since a probe was last heard.',
    own.map((probe) => [labelsOf(probe), (now - probe.lastSeenAt) / 1000]),
  )
  const newest = (senses: 'bat' | 'rssi', scale: number): Rows =>
    own.flatMap((probe): Rows => {
      const channel = channels.find((c) => c.probe === probe.id && c.senses === senses)
      const value = latest.find((l) => l.probe === probe.id && l.channel === channel?.name)?.value
      if (channel === undefined || value === undefined) return []
      return [[labelsOf(probe), toInside(channel.unit, value) * scale]]
    })
  gauge('probe_supply_volts', 'Supply of a probe.', newest('bat', 0.001))
  gauge('probe_signal_dbm', 'Radio signal at a probe.', newest('rssi', 1))
}
