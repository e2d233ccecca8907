import { mkdirSync, readFileSync, readdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import type { Health } from '#hub/api/schemas/health.ts'
import { openStores } from '#hub/store/open.ts'
import { startHub } from '../../support/hub-process.ts'
import { batchOf, sampleReading } from '../../support/sample-readings.ts'
import { runCommand } from '../../support/run-command.ts'
import { tempDir } from '../../support/temp-dir.ts'

const FIRST = Date.UTC(2026, 4, 2)
const MINUTE = 60_000
const PER_DAY = 1440

const NO_BACKUP = "expected a folder made by 'backup', found no readings.db in it"

/** Three days of a reading a minute, backed up; then two of the days are changed on the disk, and somebody looks. */
async function damagedFolder(dir: string) {
  const data = join(dir, 'data')
  const env = { LOAMLINE_DATA_DIR: data }
  const stores = await openStores(data, { zone: 'Europe/Lisbon' })
  const readings = Array.from({ length: 3 * PER_DAY }, (_, seq) =>
    sampleReading({ seq, at: FIRST + seq * MINUTE, values: { m1: seq % 17 } }),
  )
  await stores.readings.append(batchOf({ readings }))
  await stores.readings.settle()
  await stores.close()
  const backup = join(dir, 'backup')
  expect(await runCommand(env, 'backup', '--to', backup)).toMatchObject({ code: 0 })
  const db = new DatabaseSync(join(data, 'readings.db'))
  const blocks = db.prepare('SELECT id, body FROM block ORDER BY start LIMIT 2').all()
  for (const { id, body } of blocks as unknown as { id: number; body: Uint8Array }[]) {
    body[9] = body[9]! ^ 4
    db.prepare('UPDATE block SET body = ? WHERE id = ?').run(body, id)
  }
  db.close()
  expect((await runCommand(env, 'damaged')).out).toBe('No damage was met.\n')
  const exported = await runCommand(env, 'export', '--format', 'lines')
  expect(exported.out.split('\n')).toHaveLength(PER_DAY + 1)
  expect(exported.err.match(/^Not in it, .* 1440 readings of row1, /gm)).toHaveLength(2)
  expect((await runCommand(env, 'export', '--from', '2026-05-05')).err).toBe('')
  return { env, data, backup, bodies: blocks.map(({ body }) => body) }
}

test('damage is listed, its bytes are written to a file, given up, and come back out of a folder', async () => {
  using dir = tempDir()
  const { env, data, backup, bodies } = await damagedFolder(dir.path)
  const listed = await runCommand(env, 'damaged')
  expect(listed.out).toMatch(
    /^2 {2}1440 readings of row1, 2026-05-03T00:00:00Z to 2026-05-04T00:00:00Z; met .*, open, 0 there now\n1 {2}1440 readings of row1, 2026-05-02T/,
  )
  const file = join(dir.path, 'bytes')
  expect(await runCommand(env, 'damaged', '--save', '1', '--to', file)).toMatchObject({ code: 0 })
  expect(Uint8Array.from(readFileSync(file))).toEqual(bodies[0])
  expect(await runCommand(env, 'damaged', '--save', '1', '--to', file)).toMatchObject({
    code: 2,
    err: expect.stringContaining('--to: '),
  })
  for (const wrong of [
    ['--save', '1'],
    ['--gone', 'all'],
    ['--gone', '7', '--for-good'],
    ['--for-good'],
    ['--from', file, '--gone', '1', '--for-good'],
  ])
    expect(await runCommand(env, 'damaged', ...wrong)).toMatchObject({
      code: 2,
      err: expect.stringContaining('expected'),
    })
  expect(await runCommand(env, 'damaged', '--gone', '2')).toMatchObject({
    code: 2,
    err: expect.stringMatching(/--for-good .*no backup brings it back\. Try --from/),
  })
  expect((await runCommand(env, 'damaged')).out).toMatch(/^2 .*, open, /)
  expect(await runCommand(env, 'damaged', '--gone', '2', '--for-good')).toMatchObject({ code: 0 })
  const half = join(dir.path, 'not-whole')
  writeFileSync(half, 'no archive')
  for (const [wrong, why] of [
    [half, 'expected the archive of a backup (.tar), got something else'],
    [dir.path, NO_BACKUP],
    [join(dir.path, 'nowhere'), 'expected a folder or a .tar file'],
  ] as const)
    expect(await runCommand(env, 'damaged', '--from', wrong)).toMatchObject({
      code: 2,
      err: expect.stringContaining(`--from: ${why}`),
    })

  const back = await runCommand(env, 'damaged', '--from', backup)
  expect(back.out).toMatch(
    /^1 {2}1440 of 1440 are in it\nOut of the backup of .* 1440 readings came back that were missing\.\n$/,
  )
  expect((await runCommand(env, 'export', '--format', 'lines')).out.split('\n')).toHaveLength(
    2 * PER_DAY + 1,
  )
  expect((await runCommand(env, 'damaged')).out).toMatch(
    /^2 {2}.*; given up .*\n1 {2}.*; came back /,
  )
  expect((await runCommand(env, 'damaged', '--from', backup)).out).toBe(
    'Nothing that is damaged is open.\n',
  )
  expect(readdirSync(data).filter((name) => name.startsWith('bringing'))).toEqual([])
}, 120_000)

test('the same through a hub that runs: its health is well again once all is settled', async () => {
  using dir = tempDir()
  const { env: folder, data, backup, bodies } = await damagedFolder(dir.path)
  const hub = await startHub('start', data)
  const env = { ...folder, LOAMLINE_HTTP_PORT: new URL(hub.url).port }
  try {
    const health = () => hub.get<Health>('/api/health')
    const garden = () => hub.get<Record<string, unknown>>('/api/garden')
    expect(await health()).toMatchObject({
      status: 'trouble',
      store: {
        state: 'up',
        problem: expect.stringContaining('2880 readings were found damaged'),
        about: 'damaged readings',
      },
    })
    expect((await runCommand(env, 'export')).err.match(/^Not in it, /gm)).toHaveLength(2)
    const file = join(dir.path, 'bytes')
    expect(await runCommand(env, 'damaged', '--save', '2', '--to', file)).toMatchObject({ code: 0 })
    expect(Uint8Array.from(readFileSync(file))).toEqual(bodies[1])
    expect(await runCommand(env, 'damaged', '--gone', '2', '--for-good')).toMatchObject({ code: 0 })
    // Whatever language the hub speaks, it is said as without one.
    expect((await hub.send('PUT', '/api/garden', { ...(await garden()), language: 'de' })).ok).toBe(
      true,
    )
    for (const [option, ...rest] of [
      ['--gone', '2', '--for-good'],
      ['--save', '99', '--to', join(dir.path, 'none')],
    ] as const) {
      const { code, err } = await runCommand(env, 'damaged', option, ...rest)
      expect(code).toBe(2)
      expect(err).toContain(
        `${option}: expected the number of a damaged part that is not settled, got ${rest[0]}`,
      )
    }
    // What is no backup, or cannot be read, is told by name: the hub itself can be reached.
    const unreadable = join(dir.path, 'unreadable')
    for (const name of ['readings.db', 'garden.db', 'backup.json'])
      mkdirSync(join(unreadable, name), { recursive: true })
    for (const [wrong, why] of [
      [dir.path, `--from: ${NO_BACKUP}`],
      [unreadable, `--from: ${unreadable} cannot be read (EISDIR`],
    ] as const) {
      const { code, err } = await runCommand(env, 'damaged', '--from', wrong)
      expect(code).toBe(2)
      expect(err).toContain(why)
      expect(err).not.toContain('reached')
    }
    expect((await runCommand(env, 'damaged', '--from', backup)).out).toContain(
      '1440 of 1440 are in it',
    )
    expect(await health()).toMatchObject({
      status: 'ok',
      counts: { readings: 2 * PER_DAY },
      store: { problem: null },
    })
  } finally {
    await hub.end()
  }
}, 120_000)
