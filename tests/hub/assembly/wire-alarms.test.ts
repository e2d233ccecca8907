import pino from 'pino'
import { expect, test } from 'vitest'
import { createLiveFeed } from '#hub/api/live.ts'
import { alarmTeller } from '#hub/assembly/wire-alarms.ts'
import { createRetainedDelivery } from '#hub/delivery/retained.ts'
import { openStores } from '#hub/store/open.ts'
import { inManner } from '#hub/words/say.ts'
import { anAlarm } from '../../support/alarm-fixture.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { until } from '../../support/until.ts'

test('what stands at the broker is told anew when the garden is spoken to in another manner', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  const { garden } = stores
  const standing = new Map<string, string>()
  const retained = createRetainedDelivery(
    async (topic, payload) => {
      standing.set(topic, payload)
    },
    (trouble) => {
      throw new Error(trouble)
    },
  )
  const log = pino({ enabled: false })
  const tell = alarmTeller({ garden, retained, live: createLiveFeed(), log })
  const texts = {
    'en metric': { sentence: 'About 10 L are missing.', advice: 'Water slowly.' },
    'es metric': { sentence: 'Faltan unos 10 L.', advice: 'Regar despacio.' },
    'es us': { sentence: 'Faltan unos 2,6 gal.', advice: 'Regar despacio.' },
  }
  const alarm = anAlarm({ id: 0, bedId: null, subject: 'fern1', ...texts['en metric'], texts })
  await garden.saveAlarms([{ alarm, at: alarm.raisedAt, what: 'raised', by: null, note: '' }])
  const said = (): unknown[] =>
    Array.from(standing.values(), (payload) => {
      const { sentence, advice } = JSON.parse(payload) as Record<string, unknown>
      return { sentence, advice }
    })

  await tell(await garden.openAlarms(), true)
  await until('it stands', async () => standing.size === 1)
  expect(said()).toEqual([texts['en metric']])
  await inManner({ language: 'es', units: 'us' }, async () =>
    tell(await garden.openAlarms(), false),
  )
  await until('it is told anew', async () => JSON.stringify(said()).includes('gal'))
  expect(said()).toEqual([texts['es us']])
  retained.stop()
  await stores.close()
})
