import { execFile } from 'node:child_process'
import { once } from 'node:events'
import { writeFileSync } from 'node:fs'
import { createServer, type Server } from 'node:http'
import { createServer as createEncrypted } from 'node:https'
import type { AddressInfo } from 'node:net'
import { join } from 'node:path'
import { pino } from 'pino'
import { expect, test } from 'vitest'
import { openIngestProcess } from '#hub/assembly/wire-relay.ts'
import { configSchema } from '#hub/config/settings.ts'
import { freePort } from '../../support/ports.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { TEST_CERTIFICATE, TEST_KEY } from '../../support/test-certificate.ts'

/** The exit code of the check, with what it wrote. */
function check(env: Record<string, string>): Promise<{ code: number; said: string }> {
  return new Promise((resolve) => {
    const command = execFile(
      process.execPath,
      ['hub/cli/healthy.ts'],
      { env: { PATH: process.env['PATH'] ?? '', ...env } },
      (_, __, stderr) => resolve({ code: command.exitCode ?? -1, said: stderr }),
    )
  })
}

async function listening(
  server: Server,
  host = '127.0.0.1',
): Promise<{ port: string } & AsyncDisposable> {
  server.listen(0, host)
  await once(server, 'listening')
  return {
    port: String((server.address() as AddressInfo).port),
    async [Symbol.asyncDispose]() {
      server.closeAllConnections()
      server.close()
      await once(server, 'close')
    },
  }
}

test.each([
  [200, 0],
  [503, 1],
])('a hub that answers %i at /api/who makes it end with %i', async (status, code) => {
  const paths: unknown[] = []
  await using hub = await listening(
    createServer((request, response) => {
      paths.push(request.url)
      response.writeHead(status).end('{}')
    }),
  )
  expect(await check({ LOAMLINE_HTTP_PORT: hub.port })).toEqual({ code, said: '' })
  expect(paths).toEqual(['/api/who'])
})

test.each(['::1', '127.0.0.2', '0.0.0.0', '::'])(
  'a hub that listens at %s is asked there',
  async (host) => {
    await using hub = await listening(
      createServer((_request, response) => response.writeHead(200).end('{}')),
      host,
    )
    const env = { LOAMLINE_HTTP_HOST: host, LOAMLINE_HTTP_PORT: hub.port }
    expect(await check(env)).toEqual({ code: 0, said: '' })
  },
)

test('nobody there, it ends with 1 and says why', async () => {
  const { code, said } = await check({ LOAMLINE_HTTP_PORT: String(await freePort()) })
  expect(code).toBe(1)
  expect(said).toContain('ECONNREFUSED')
})

test('a hub that takes the connection and is silent is not healthy', async () => {
  await using hub = await listening(createServer(() => {}))
  const { code, said } = await check({ LOAMLINE_HTTP_PORT: hub.port })
  expect(code).toBe(1)
  expect(said).toContain('expected an answer within 4000 ms')
})

test('encrypted, with port and certificate from the config file, under a name that is not its own', async () => {
  using folder = tempDir()
  await using hub = await listening(
    createEncrypted({ cert: TEST_CERTIFICATE, key: TEST_KEY }, (_, response) => {
      response.end('{}')
    }) as unknown as Server,
  )
  const file = join(folder.path, 'hub.json')
  writeFileSync(file, JSON.stringify({ httpPort: Number(hub.port), httpCertificate: 'hub.pem' }))
  expect(await check({ LOAMLINE_CONFIG: file })).toEqual({ code: 0, said: '' })
})

test('an ingest process is asked for its health, without encryption whatever certificate the hub has', async () => {
  using folder = tempDir()
  const port = await freePort()
  const fail = (error: unknown): never => {
    throw error
  }
  const one = await openIngestProcess(
    configSchema.parse({
      role: 'ingest',
      dataDir: folder.path,
      httpPort: port,
      // Neither is there: it takes nothing in, and is well enough to wait for them.
      brokerUrl: `mqtt://127.0.0.1:${await freePort()}`,
      influxUrl: `http://127.0.0.1:${await freePort()}`,
      brokerClientId: 'ingest-1',
    }),
    { version: '0.0.0', clock: Date.now, log: pino({ level: 'silent' }), onFatal: fail },
  )
  try {
    const env = { LOAMLINE_HTTP_PORT: String(port), LOAMLINE_HTTP_CERTIFICATE: 'hub.pem' }
    expect(await check({ ...env, LOAMLINE_ROLE: 'ingest' })).toEqual({ code: 0, said: '' })
    const file = join(folder.path, 'ingest.json')
    writeFileSync(file, JSON.stringify({ role: 'ingest' }))
    expect(await check({ ...env, LOAMLINE_CONFIG: file })).toEqual({ code: 0, said: '' })
    // What the pages are on is another thing than what only takes readings in.
    expect((await check({ LOAMLINE_HTTP_PORT: String(port) })).code).toBe(1)
  } finally {
    await one.stop()
  }
})
