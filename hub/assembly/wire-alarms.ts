import type { Logger } from 'pino'
import type { LiveFeed } from '../api/live.ts'
import { alarmViews } from '../api/views/alarm.ts'
import { alarmPayload, standing } from '../delivery/alarm-topic.ts'
import type { RetainedDelivery } from '../delivery/retained.ts'
import type { Alarm } from '../model/alarm.ts'
import type { GardenStore } from '../store/garden-store.ts'
import { alarmSaid } from '../words/alarm-said.ts'

/** Puts alarms, as they are said here and now, where people look: the broker, the open pages, the log. Without `news` the broker alone. */
export function alarmTeller({
  garden,
  retained,
  live,
  log,
}: {
  readonly garden: GardenStore
  readonly retained: RetainedDelivery
  readonly live: LiveFeed
  readonly log: Logger
}): (alarms: readonly Alarm[], news: boolean) => Promise<void> {
  const logged = new Map<number, string>()
  return async (changed, news) => {
    const alarms = changed.map(alarmSaid)
    const [beds, open] = await Promise.all([garden.beds({ retired: true }), garden.openAlarms()])
    for (const [topic, alarm] of standing(alarms, open.map(alarmSaid))) {
      const bed = beds.find(({ id }) => id === alarm?.bedId)
      retained.set(topic, alarmPayload(alarm, bed?.name ?? ''))
    }
    if (!news) return
    for (const [i, view] of alarmViews(alarms, beds).entries()) {
      const alarm = alarms[i]!
      live.send({ event: 'alarm', data: view })
      // The log gets what a person would want to read: a new state or a new sentence, nothing twice.
      const line = `${alarm.state} ${alarm.sentence}`
      if (logged.get(alarm.id) === line) continue
      logged.set(alarm.id, line)
      log.warn(
        { alarm: alarm.kind, bed: view.bed, state: alarm.state, subject: alarm.subject },
        alarm.sentence,
      )
    }
  }
}
