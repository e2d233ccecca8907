import { connect } from 'node:net'
import type { AddressInfo } from 'node:net'
import { expect, test } from 'vitest'
import { apiHost } from '../../support/api-host.ts'
import { until } from '../../support/until.ts'

const MAP = { layout: 'lines', precision: 'ns', probe: { column: 'probe' }, channels: [] }

test('a page that is closed in the middle of an upload does not end the hub', async () => {
  // Its jobs throw what they take for a mistake of the hub.
  await using host = await apiHost(Date.UTC(2026, 4, 1))
  await host.app.listen({ host: '127.0.0.1', port: 0 })
  const { port } = host.app.server.address() as AddressInfo
  const socket = connect(port, '127.0.0.1')
  socket.write(
    `POST /api/import/store?map=${encodeURIComponent(JSON.stringify(MAP))} HTTP/1.1\r\n` +
      `host: 127.0.0.1:${port}\r\ncontent-type: application/octet-stream\r\ncontent-length: 100000\r\n\r\n` +
      'soil,probe=kes1 phmv=12.5 1777600000000000000\n',
  )
  const job = await until('the import has begun', async () => {
    const { body } = await host.call('GET', '/api/jobs')
    return (body as { kind: string }[]).find(({ kind }) => kind === 'import')
  })
  expect(job).toBeDefined()
  socket.destroy()
  const over = await until('the import is over', async () => {
    const { body } = await host.call('GET', '/api/jobs')
    return (body as { state: string; reason: string | null }[]).find(
      ({ state }) => state === 'failed',
    )
  })
  expect(over.reason).toMatch(/^expected the whole file, it broke off after \d+ bytes$/)
  expect((await host.call('GET', '/api/health')).status).toBe(200)
})
