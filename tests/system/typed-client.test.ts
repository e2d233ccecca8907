import { execFile } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { promisify } from 'node:util'
import { expect, test } from 'vitest'
import type { Document } from '#hub/api/open-api/document.ts'
import { clientFrom } from '../support/client-from-openapi.ts'
import { startHub } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'

const run = promisify(execFile)

/** What the compiler of this project says of files; '' when nothing. */
async function complaints(...files: readonly string[]): Promise<string> {
  const strict = ['--strict', '--noEmit', '--target', 'esnext', '--module', 'nodenext']
  const rest = [
    '--lib',
    'esnext,dom,dom.iterable',
    '--allowImportingTsExtensions',
    '--ignoreConfig',
  ]
  return run('node_modules/.bin/tsc', [...strict, ...rest, ...files]).then(
    () => '',
    (error: { stdout?: string; message: string }) => error.stdout ?? error.message,
  )
}

/** The part of the client that this test uses. */
interface Client {
  postBeds(body: object): Promise<{ id: number; name: string }>
  getBeds(): Promise<{ id: number; name: string }[]>
  putBedsId(path: { id: number }, body: object): Promise<{ name: string }>
  getBedsIdSeries(path: { id: number }, query: object): Promise<{ time: number[] }>
  deleteSpotsId(path: { id: number }): Promise<void>
  postBedsIdSpots(path: { id: number }, body: object): Promise<{ id: number }>
}

test('a client made from the document compiles, works, and does not let wrong use pass', async () => {
  using dir = tempDir()
  using files = tempDir()
  await using hub = await startHub('start', dir.path)
  const document = await hub.get<Document>('/api/openapi.json')
  const client = join(files.path, 'client.ts')
  writeFileSync(client, clientFrom(document))
  const bed = `{ name: 'Wren Corner', areaM2: 2, depthM: 0.3, texture: 'loam' as const, crops: [], ownBand: null }`
  const right = join(files.path, 'right.ts')
  writeFileSync(
    right,
    `import { createClient, type Bed } from './client.ts'
    export async function use(): Promise<number | null> {
      const client = createClient('')
      const made: Bed = await client.postBeds(${bed})
      const series = await client.getBedsIdSeries({ id: made.id }, { quantity: 'ph', from: 0, to: 1 })
      return series.value[0] ?? null
    }`,
  )
  expect(await complaints(client, right)).toBe('')
  for (const [name, line] of [
    ['property', `(await createClient('').getBeds())[0]!.colour`],
    ['texture', `createClient('').postBeds({ ...${bed}, texture: 'cheese' })`],
    ['missing', `createClient('').postBeds({ name: 'x' })`],
    ['number', `const text: string = (await createClient('').getBeds())[0]!.areaM2; text`],
  ] as const) {
    const wrong = join(files.path, `${name}.ts`)
    writeFileSync(
      wrong,
      `import { createClient } from './client.ts'\nawait (async () => { ${line} })()\nexport {}\n`,
    )
    expect(await complaints(wrong), name).toContain(`${name}.ts`)
  }

  const { createClient, HubProblem } = (await import(
    /* @vite-ignore */ pathToFileURL(client).href
  )) as { createClient: (base: string) => Client; HubProblem: new () => Error }
  const hubClient = createClient(hub.url)
  const made = await hubClient.postBeds({
    name: 'Wren Corner',
    areaM2: 2,
    depthM: 0.3,
    texture: 'loam',
    crops: ['tomato'],
    ownBand: null,
  })
  expect((await hubClient.getBeds()).map(({ name }) => name)).toEqual(['Wren Corner'])
  const spot = await hubClient.postBedsIdSpots({ id: made.id }, { name: 'gate' })
  expect(await hubClient.deleteSpotsId({ id: spot.id })).toBeUndefined()
  const series = await hubClient.getBedsIdSeries(
    { id: made.id },
    { quantity: 'ph', from: Date.now() - 86_400_000, to: Date.now() },
  )
  expect(series.time).toEqual([])
  const refused = await hubClient.putBedsId({ id: 99 }, {}).catch((error: unknown) => error)
  expect(refused).toBeInstanceOf(HubProblem)
}, 60_000)
