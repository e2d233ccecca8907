import { execFileSync } from 'node:child_process'
import { readdirSync } from 'node:fs'
import { connect } from 'node:net'
import type { Socket } from 'node:net'
import { expect, onTestFinished, test } from 'vitest'
import type { Health } from '#hub/api/schemas/health.ts'
import { startHub } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'

/** Descriptors the hub may open beyond those it has. */
const ROOM = 12
const CONNECTIONS = 80

test('more connections than the system lets the hub have', { timeout: 60_000 }, async () => {
  using folder = tempDir()
  const hub = await startHub('start', folder.path, { LOAMLINE_PROBE_LIMIT: '0' })
  onTestFinished(() => hub[Symbol.asyncDispose]())
  const probes = await startInsistentProbes({
    url: `mqtt://127.0.0.1:${hub.mqttPort}`,
    probes: 3,
    everyMs: 30,
    trusting: 1,
  })
  onTestFinished(() => probes.close())
  await until('probes are heard', () => probes.toldCount() > 60, 20_000)
  const open = Math.max(...readdirSync(`/proc/${hub.pid}/fd`).map(Number))
  execFileSync('prlimit', ['--pid', String(hub.pid), `--nofile=${open + 1 + ROOM}:`])
  const sockets: Socket[] = []
  onTestFinished(() => {
    for (const socket of sockets) socket.destroy()
  })
  for (const port of [hub.mqttPort, Number(new URL(hub.url).port)]) {
    for (let i = 0; i < CONNECTIONS; i++) {
      const socket = connect(port, '127.0.0.1')
      socket.on('error', () => {})
      sockets.push(socket)
    }
  }
  // Those that are in stay in and are heard.
  const before = probes.toldCount()
  await until('probes go on being heard', () => probes.toldCount() > before + 100, 20_000)
  for (const socket of sockets) socket.destroy()
  const health = await until(
    'pages open again',
    async () => hub.get<Health>('/api/health').catch(() => null),
    20_000,
  )
  expect(health.store).toEqual({ state: 'up', problem: null })
  await probes.finish()
  expect(await hub.end()).toBe(0)
  expectWhole(await auditFolder(folder.path, probes), probes)
})
