import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import { packBatch } from '#hub/store/sqlite/packed-intake.ts'
import { startRemote } from '#hub/store/sqlite/remote.ts'
import type { WriterApi, WriterData } from '#hub/store/sqlite/reading-writer.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const fail = (error: Error): never => {
  throw error
}

test('held behind an append whose settling is planned already, the writer settles nothing and knows all the same', async () => {
  using folder = tempDir()
  const file = join(folder.path, 'readings.db')
  const writer = await startRemote<WriterApi, WriterData>(
    new URL('../../../../hub/store/sqlite/reading-writer.ts', import.meta.url),
    { file },
    { onDeath: fail, onEvent: () => {} },
  )
  const mark = { probe: 'row1', boot: 1, top: 0, lost: 0, missing: 1, highest: 2, lastAt: 5 }
  const readings = [sampleReading({ seq: 0 }), sampleReading({ seq: 2 })]
  await writer.call('append', [packBatch(batchOf({ readings, marks: [mark] }))])
  await writer.call('hold', [])
  // What is not in memory any more is asked for, which settles first when nothing holds it.
  const memory = await writer.call('recall', ['row1', 1])
  expect(memory).toMatchObject({ mark, ahead: [2] })
  await expect(writer.call('settle', [])).rejects.toMatchObject({ retry: true })

  const db = new DatabaseSync(file, { readOnly: true })
  const count = (table: string) => db.prepare(`SELECT count(*) AS n FROM ${table}`).get()?.['n']
  expect([count('log'), count('block')]).toEqual([1, 0])
  await writer.call('release', [])
  await writer.call('settle', [])
  expect([count('log'), count('block')]).toEqual([0, 1])
  db.close()
  await writer.close()
})
