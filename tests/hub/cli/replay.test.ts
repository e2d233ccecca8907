import { execFile } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { seededRandom } from '../../support/random.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { appendAll, FIRST, gardenReadings, plantGarden } from '../../support/watched-garden.ts'

const run = promisify(execFile)
let dir: ReturnType<typeof tempDir>
beforeEach(() => {
  dir = tempDir()
})
afterEach(() => dir[Symbol.dispose]())

async function loamline(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  try {
    const { stdout, stderr } = await run(process.execPath, ['hub/cli/loamline.mjs', ...args], {
      env: { ...process.env, LOAMLINE_DATA_DIR: join(dir.path, 'data') },
      maxBuffer: 1e8,
    })
    return { code: 0, out: stdout, err: stderr }
  } catch (error) {
    const { code, stdout, stderr } = error as { code: number; stdout: string; stderr: string }
    return { code, out: stdout, err: stderr }
  }
}

/** A bed of three spots, quarter-hourly: on day 20 spot b jumps alone, on day 28 all fall by 1.4. */
function table(): string {
  const random = seededRandom(5)
  const lines = ['when,place,acidity,water,warmth']
  for (let at = FIRST; at < FIRST + 36 * DAY; at += 15 * MINUTE) {
    const day = (at - FIRST) / DAY
    for (const place of ['a', 'b', 'c']) {
      let ph = 6.5 + 0.05 * Math.sin(2 * Math.PI * day) + 0.05 * (random() - 0.5)
      if (place === 'b' && day >= 20 && day < 24) ph += 1
      if (day >= 28) ph -= 1.4
      lines.push(`${new Date(at).toISOString().slice(0, 16)},${place},${ph.toFixed(3)},0.27,15`)
    }
  }
  lines.push(
    'yesterday,a,6.5,0.27,15',
    `${new Date(FIRST + 36 * DAY).toISOString().slice(0, 16)},a,sour,0.27,15`,
  )
  return `${lines.join('\n')}\n`
}

const COLUMNS = [
  '--time',
  'when',
  '--ph',
  'acidity',
  '--spot',
  'place',
  '--moisture',
  'water',
  '--temperature',
  'warmth',
]

test('a table is gone through: what changed, why, when it would have been told, and what could not be read', async () => {
  const file = join(dir.path, 'patch.csv')
  writeFileSync(file, table())
  const labels = join(dir.path, 'labels.csv')
  const time = (day: number): string => new Date(FIRST + day * DAY).toISOString().slice(0, 16)
  writeFileSync(
    labels,
    `time,cause,size\n${time(20)},probe,1\n${time(28)},soil,-1.4\n${time(10)},soil,\n`,
  )
  const { code, out } = await loamline(
    'replay',
    '--csv',
    file,
    ...COLUMNS,
    '--labels',
    labels,
    '--why',
  )
  expect(code).toBe(0)
  expect(out).toContain('2 cells or rows could not be used')
  expect(out).toMatch(/got 'yesterday'/)
  expect(out).toMatch(
    /rose from 6\.\d to 7\.\d by 1\.0 ± 0\.\d at b alone within hours; most likely one probe, not the bed/,
  )
  expect(out).toMatch(
    /fell by 1\.4 ± 0\.\d at all 3 spots within hours; most likely the soil itself/,
  )
  expect(out).toMatch(/raised probe-check {2}patch: Probe csv2 \(b\)/)
  expect(out).toMatch(/returned probe-check/)
  expect(out).toMatch(/raised harmful-shift {2}patch: pH fell/)
  expect(out).toMatch(/2 of 3 found, 2 under the right name/)
  expect(out).toContain('soil: missed')
}, 60_000)

test('for other programs it speaks JSON, and earlier alarms are left out', async () => {
  const file = join(dir.path, 'patch.csv')
  writeFileSync(file, table())
  const from = new Date(FIRST + 26 * DAY).toISOString().slice(0, 10)
  const { code, out } = await loamline(
    'replay',
    '--csv',
    file,
    ...COLUMNS,
    '--from',
    from,
    '--json',
  )
  expect(code).toBe(0)
  const result = JSON.parse(out) as { alarms: { kind: string; at: number }[]; hours: number }
  expect(result.alarms.every(({ at }) => at >= FIRST + 26 * DAY)).toBe(true)
  expect(result.alarms.map(({ kind }) => kind)).toContain('harmful-shift')
  expect(result.hours).toBeGreaterThanOrEqual(36 * 24)
}, 60_000)

test('what cannot be done is said in one line, with exit code 2', async () => {
  const file = join(dir.path, 'patch.csv')
  writeFileSync(file, 'when,acidity\n2026-07-01T10:00,6.5\n')
  const column = await loamline('replay', '--csv', file, '--time', 'when', '--ph', 'pH')
  expect(column).toMatchObject({ code: 2 })
  expect(column.err).toContain("has no column 'pH'; expected one of: when, acidity")
  const missing = await loamline(
    'replay',
    '--csv',
    join(dir.path, 'no.csv'),
    '--time',
    't',
    '--ph',
    'p',
  )
  expect(missing).toMatchObject({ code: 2 })
  expect(missing.err).toContain('cannot read')
  const date = await loamline(
    'replay',
    '--csv',
    file,
    '--time',
    'when',
    '--ph',
    'acidity',
    '--from',
    'May',
  )
  expect(date).toMatchObject({ code: 2 })
  expect(date.err).toContain("expected a day such as 2026-03-01, got 'May'")
  const option = await loamline('replay', '--bad')
  expect(option).toMatchObject({ code: 2 })
  expect((await loamline('replay', '--help')).out).toContain('--labels FILE')
}, 60_000)

test("the garden's own folder is gone through, unless a hub holds it", async () => {
  const stores = await openStores(join(dir.path, 'data'))
  await plantGarden(stores)
  await appendAll(stores, gardenReadings(22))
  const held = await loamline('replay')
  expect(held).toMatchObject({ code: 2 })
  expect(held.err).toContain('HUB_STORE_LOCKED')
  await stores.close()
  const { code, out } = await loamline('replay', '--bed', 'fern', '--why')
  expect(code).toBe(0)
  expect(out).toMatch(
    /fern: pH rose by 1\.\d ± 0\.\d at all 3 spots within hours; most likely what was put on/,
  )
  expect(out).toContain('The journal has wood ash')
  const spanish = await openStores(join(dir.path, 'data'))
  await spanish.garden.setGarden({ ...(await spanish.garden.garden()), language: 'es' })
  await spanish.close()
  const told = await loamline('replay', '--bed', 'fern', '--why')
  expect(told.out).toMatch(/fern: El pH subió \(1,\d ± 0,\d\)/)
  expect(told.out).not.toContain('The journal has')
  const unknown = await loamline('replay', '--bed', 'birch')
  expect(unknown).toMatchObject({ code: 2 })
  expect(unknown.err).toContain("there is no bed 'birch'; expected one of: fern, moss")
}, 60_000)
