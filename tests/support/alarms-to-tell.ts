import type { NewRoute } from '#hub/model/route.ts'
import { openStores } from '#hub/store/open.ts'
import { anAlarm } from './alarm-fixture.ts'

/** A data folder with routes that have alarms to tell of, each of a bed of its own. */
export async function fillWithAlarms(
  folder: string,
  routes: readonly NewRoute[],
  alarms: number,
): Promise<void> {
  const stores = await openStores(folder, { zone: 'Europe/Lisbon' })
  const { garden } = stores
  const now = Date.now()
  for (const route of routes) await garden.addRoute(route, null, now)
  for (let i = 0; i < alarms; i++) {
    const bed = await garden.addBed(
      {
        name: `Bed ${i + 1}`,
        areaM2: 2,
        depthM: 0.3,
        texture: 'loam',
        crops: [],
        ownBand: { low: 6, high: 7 },
      },
      now,
    )
    const alarm = anAlarm({ id: 0, bedId: bed.id, raisedAt: now, sentence: `Bed ${i + 1}: rose.` })
    await garden.saveAlarms([{ alarm, at: now, what: 'raised', by: null, note: '' }])
  }
  await stores.close()
}
