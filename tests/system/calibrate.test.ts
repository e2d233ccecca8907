import { execFileSync, spawn } from 'node:child_process'
import { once } from 'node:events'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

let hub: HubProcess
const dir = tempDir()

/** Runs the command with these lines typed; resolves to what it wrote and its exit code. */
async function run(
  options: readonly string[],
  typed: readonly string[] = [],
): Promise<{ out: string; code: number | null }> {
  const child = spawn(process.execPath, ['hub/cli/loamline.mjs', 'calibrate', ...options])
  let out = ''
  for (const stream of [child.stdout, child.stderr]) {
    stream.on('data', (chunk: Buffer) => {
      out += chunk.toString()
    })
  }
  child.stdin.end(typed.map((line) => `${line}\n`).join(''))
  const [code] = (await once(child, 'exit')) as [number | null]
  return { out, code }
}

beforeAll(async () => {
  hub = await startHub('start', dir.path)
  const payload = JSON.stringify({ b: 1, n: 0, u: 5, v: { phmv: 30.5, st: 18.2 } })
  const to = ['-p', String(hub.mqttPort), '-q', '1', '-t', 'lm1/fern1/up/r', '-m', payload]
  execFileSync('mosquitto_pub', to)
  await until('it is heard', async () =>
    (await hub.get<ProbeView[]>('/api/probes')).some((p) => p.channels.some((c) => c.latest)),
  )
  await hub.send('PUT', '/api/probes/fern1', { name: '' })
}, 60_000)
afterAll(async () => {
  await hub?.end()
  dir[Symbol.dispose]()
})

const electrode = (): Promise<ProbeView> => hub.get<ProbeView>('/api/probes/fern1')

test('two buffers by values typed: judged, its effect told, stored after a yes', async () => {
  const { id, calibrations } = await electrode()
  const options = [id, '--hub', hub.url, '--temperature', '25']
  const typed = ['', '-15', '', '160', 'y']
  const { out, code } = await run(options, typed)
  expect(out).toMatch(/Buffer 7\.00, pH 7 at 25 °C/)
  // "How to calculate offset and slope", worked electrode: 98.6 %, -15 mV.
  expect(out).toMatch(/Good\. Slope 98\.6 %, -15 mV at pH 7/)
  expect(out).toMatch(/Held against it, the newest hour would read pH/)
  expect(out).toMatch(/Stored/)
  expect(code).toBe(0)
  const after = (await hub.get<ProbeView>(`/api/probes/${id}`)).calibrations
  expect(after).toHaveLength(calibrations.length + 1)
  expect(after.toSorted((a, b) => b.id - a.id)[0]).toMatchObject({
    bufferSet: 'technical',
    points: [
      { ph: 7, emfMv: -15 },
      { ph: 4, emfMv: 160 },
    ],
  })
}, 60_000)

test('an electrode that is worn out is told so, and nothing is stored; nor without a yes', async () => {
  const { id, calibrations } = await electrode()
  const options = [id, '--hub', hub.url, '--temperature', '25']
  // The other worked electrode: 81.7 %.
  const worn = await run(options, ['', '15', '', '160'])
  expect(worn.out).toMatch(/Not fit for use\. Slope 81\.[67] %/)
  expect(worn.code).toBe(2)
  const no = await run(options, ['', 'what', '-15', '', '160', 'n'])
  expect(no.out).toMatch(/Expected Enter or a number in mV, got 'what'/)
  expect(no.out).toMatch(/Nothing was stored/)
  expect((await hub.get<ProbeView>(`/api/probes/${id}`)).calibrations).toHaveLength(
    calibrations.length,
  )
}, 60_000)

test.each([
  [['--temperature', '25'], /expected one probe/],
  [['fern1'], /--temperature: expected degrees/],
  [['fern1', '--temperature', '25', '--set', 'mine'], /--set: expected technical or/],
  [['fern1', '--temperature', '25', '--buffers', '7.00'], /two or three different/],
  [['fern1', '--temperature', '25', '--buffers', '7.00,phosphate'], /got 'phosphate'/],
  [['fern1', '--temperature', '25', '--hub', 'http://127.0.0.1:1'], /no hub answers/],
])('%j is refused in words', async (options, words) => {
  const { out, code } = await run(options)
  expect(out).toMatch(words)
  expect(code).toBe(2)
})
