import { connectAsync } from 'mqtt'
import { expect, test } from 'vitest'
import type { Health } from '#hub/api/schemas/health.ts'
import { startHub } from '#tests/support/hub-process.ts'
import { heldThere, targetOn } from '#tests/support/influx-store.ts'
import { startInfluxd } from '#tests/support/services/services.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

const BOOT = 7

test(
  'a hub with an InfluxDB: what a probe sends is there and on its pages; away, it is told and nothing is missing',
  { timeout: 60_000 },
  async () => {
    using folder = tempDir()
    await using influxd = await startInfluxd()
    const target = targetOn(influxd, 'loamline')
    const env = { LOAMLINE_INFLUX_URL: target.url }
    let hub = await startHub('start', folder.path, env)
    let probe = await connectAsync(`mqtt://127.0.0.1:${hub.mqttPort}`, { clientId: 'row1' })
    let sent = 0
    const send = (): Promise<unknown> =>
      probe.publishAsync(
        'lm1/row1/up/r',
        JSON.stringify({ b: BOOT, n: sent, u: sent++, v: { e1: sent } }),
        { qos: 1 },
      )
    const shown = async (): Promise<number[]> => {
      const range = `from=${Date.now() - 600_000}&to=${Date.now() + 60_000}&points=2000`
      const { mean } = await hub.get<{ mean: number[] }>(
        `/api/probes/row1/series?channel=e1&${range}`,
      )
      return mean
    }
    const health = (): Promise<Health> => hub.get('/api/health')
    try {
      for (let i = 0; i < 5; i++) await send()
      await until('InfluxDB holds them', async () => (await heldThere(target)).n === 5)
      expect(await shown()).toEqual([1, 2, 3, 4, 5])
      expect(await health()).toMatchObject({
        status: 'ok',
        influx: { state: 'up', waiting: 0, refused: 0, problem: null },
      })

      await influxd.kill()
      for (let i = 0; i < 3; i++) await send()
      const told = await until('it is told', async () => {
        const { status, influx } = await health()
        return influx?.state === 'down' && influx.waiting === 3 ? { status, influx } : null
      })
      expect(told.status).toBe('trouble')
      expect(told.influx.problem).toContain('cannot be reached')
      expect(await shown()).toHaveLength(8)
      const metrics = await (await fetch(`${hub.url}/metrics`)).text()
      expect(metrics).toContain('loamline_influx_up 0')
      expect(metrics).toContain('loamline_influx_waiting_readings 3')

      // The hub ends too, and begins while InfluxDB is still away.
      await probe.endAsync(true)
      await hub.end('SIGKILL')
      hub = await startHub('start', folder.path, env)
      probe = await connectAsync(`mqtt://127.0.0.1:${hub.mqttPort}`, { clientId: 'row1' })
      await send()
      await until('all are shown', async () => (await shown()).length === 9)

      await influxd.start()
      await until('InfluxDB holds all', async () => (await heldThere(target)).n === 9, 30_000)
      expect(await shown()).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9])
      await until('it is well', async () => (await health()).status === 'ok')
      expect(hub.output()).toContain('InfluxDB is back')
    } finally {
      await probe.endAsync(true)
      await hub[Symbol.asyncDispose]()
    }
  },
)
