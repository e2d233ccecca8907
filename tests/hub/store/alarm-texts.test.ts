import { cpSync, readdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { expect, test } from 'vitest'
import { openStores } from '#hub/store/open.ts'
import { migrate } from '#hub/store/sqlite/migrate.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const MIGRATIONS = fileURLToPath(new URL('../../../hub/store/migrations/garden/', import.meta.url))

test('alarms of a garden from before texts were kept in every language stay, and can be changed', async () => {
  using folder = tempDir()
  using steps = tempDir()
  cpSync(MIGRATIONS, steps.path, { recursive: true })
  for (const name of readdirSync(steps.path)) {
    if (Number(name.slice(0, 3)) >= 13) rmSync(join(steps.path, name))
  }
  const file = join(folder.path, 'garden.db')
  const db = new DatabaseSync(file)
  migrate(db, pathToFileURL(`${steps.path}/`), file)
  expect(db.prepare('PRAGMA user_version').get()).toEqual({ user_version: 12 })
  db.exec(
    `INSERT INTO alarm (bed, kind, subject, priority, state, raised_at, changed_at, evidence, sentence, advice)
     VALUES (NULL, 'hub-trouble', 'disk', 'high', 'unacknowledged', 1000, 1000, '{"spotsMoved":[],"spotsSteady":[]}',
       'Die Platte ist voll.', 'Platz schaffen.')`,
  )
  db.close()

  const stores = await openStores(folder.path)
  const [kept] = await stores.garden.openAlarms()
  expect(kept).toMatchObject({ sentence: 'Die Platte ist voll.', advice: 'Platz schaffen.' })
  expect(kept!.texts).toBeUndefined()
  const texts = { 'en metric': { sentence: 'The disk is full.', advice: 'Make room.' } } as const
  const [changed] = await stores.garden.saveAlarms([
    { alarm: { ...kept!, texts }, at: 2000, what: 'changed', by: null, note: '' },
  ])
  expect(changed!.texts).toEqual(texts)
  await stores.close()

  const again = await openStores(folder.path)
  expect((await again.garden.openAlarms())[0]!.texts).toEqual(texts)
  expect((await again.garden.alarmChanges({ limit: 9 }))[0]!.alarm.texts).toEqual(texts)
  await again.close()
})
