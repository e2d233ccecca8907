import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { isPassword } from '#hub/accounts/password.ts'
import type { WhoView } from '#hub/api/schemas/account.ts'
import { openStores } from '#hub/store/open.ts'
import { startHub } from '../../support/hub-process.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { until } from '../../support/until.ts'

async function command(
  dataDir: string,
  args: readonly string[],
  { input = '', port = '9' }: { input?: string; port?: string } = {},
): Promise<{ code: number | null; text: string }> {
  const child = spawn(process.execPath, ['hub/cli/loamline.mjs', ...args], {
    env: { PATH: process.env['PATH'], LOAMLINE_DATA_DIR: dataDir, LOAMLINE_HTTP_PORT: port },
    stdio: ['pipe', 'pipe', 'pipe'],
  })
  let text = ''
  for (const stream of [child.stdout, child.stderr]) {
    stream.on('data', (chunk: Buffer) => {
      text += chunk.toString()
    })
  }
  child.stdin.end(input)
  const [code] = (await once(child, 'close')) as [number | null]
  return { code, text }
}

test('the owner command makes the first owner and sets passwords while no hub runs', async () => {
  using dir = tempDir()
  const none = await command(dir.path, ['owner'], { input: 'worms like rain\n' })
  expect(none).toMatchObject({ code: 2 })
  expect(none.text).toContain('--name: expected a name')
  const weak = await command(dir.path, ['owner', '--name', 'Ash'], { input: 'short\n' })
  expect(weak.text).toContain('at least 10 characters')
  const made = await command(dir.path, ['owner', '--name', 'Ash'], { input: 'worms like rain\n' })
  expect(made).toMatchObject({ code: 0 })
  expect(made.text).toContain('Ash is the owner now.')
  const again = await command(dir.path, ['owner', '--make'])
  const password = /Password: (\S+)/.exec(again.text)?.[1]
  expect(password).toMatch(/^[A-Z2-7]{4}-[A-Z2-7]{4}-[A-Z2-7]{4}$/)
  const other = await command(dir.path, ['owner', '--name', 'Elm'], { input: 'worms like rain\n' })
  expect(other.text).toContain('expected one of Ash, got Elm')

  const stores = await openStores(dir.path)
  const { people } = await stores.garden.accounts()
  await stores.close()
  expect(people).toHaveLength(1)
  expect(await isPassword(password!, people[0]!.hash)).toBe(true)
  expect(await isPassword('worms like rain', people[0]!.hash)).toBe(false)
}, 60_000)

test('a hub beyond its own machine says so, and how the owner is made; its commands go on working', async () => {
  using dir = tempDir()
  await using hub = await startHub('start', dir.path, { LOAMLINE_HTTP_HOST: '0.0.0.0' })
  await until('the log warns', async () => hub.output().includes('without encryption'))
  const code = /with the code ([A-Z2-7-]{14})/.exec(hub.output())?.[1]
  expect(code).toBeDefined()
  expect(await hub.get<WhoView>('/api/who')).toMatchObject({ state: 'open', exposed: true })
  const rebound = await fetch(`${hub.url}/api/who`, { headers: { 'x-forwarded-for': '10.0.0.9' } })
  expect(await rebound.json()).toMatchObject({ state: 'no owner' })

  const body = JSON.stringify({ name: 'Ash', password: 'worms like rain', code })
  const made = await fetch(`${hub.url}/api/owner`, {
    method: 'POST',
    headers: { 'content-type': 'application/json', 'x-forwarded-for': '10.0.0.9' },
    body,
  })
  expect(made.status).toBe(204)
  expect((await fetch(`${hub.url}/api/beds`)).status).toBe(401)

  const key = join(dir.path, 'local-key')
  expect(statSync(key).mode & 0o777).toBe(0o600)
  const { port } = new URL(hub.url)
  const exported = await command(dir.path, ['export', 'beds'], { port })
  expect(exported).toMatchObject({ code: 0 })
  const reset = await command(dir.path, ['owner', '--make'], { port })
  expect(reset.text).toContain('all sessions of Ash have ended')
  const backup = await command(dir.path, ['backup', '--to', join(dir.path, 'copy')], { port })
  expect(backup).toMatchObject({ code: 0 })
  expect(() => readFileSync(join(dir.path, 'copy', 'local-key'))).toThrow('ENOENT')
  expect(await hub.end()).toBe(0)
  expect(() => statSync(key)).toThrow('ENOENT')
}, 90_000)
