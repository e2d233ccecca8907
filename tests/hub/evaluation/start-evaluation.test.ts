import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import { startEvaluation } from '#hub/evaluation/start-evaluation.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { seededRandom } from '../../support/random.ts'
import { until } from '../../support/until.ts'

const NOW = 1_780_000_000_000
const PROBES = ['fern1', 'fern2', 'fern3'] as const

let host: ApiHost
let bedId = 0
let seq = 0
beforeEach(async () => {
  host = await apiHost(NOW)
  const { garden } = host.deps
  const bed = await garden.addBed(
    {
      name: 'Fern bed',
      areaM2: 2,
      depthM: 0.25,
      texture: 'loam',
      crops: ['lettuce'],
      ownBand: null,
    },
    NOW - 40 * DAY,
  )
  bedId = bed.id
  for (const probe of PROBES) {
    await garden.hear(
      [
        {
          id: probe,
          at: NOW - 40 * DAY,
          channels: [
            {
              name: 'ph',
              senses: 'ph',
              unit: 'pH',
              low: null,
              high: null,
              resolution: null,
              depthM: null,
              from: null,
              described: true,
            },
          ],
        },
      ],
      10,
    )
    await garden.adoptProbe(probe, probe, NOW - 40 * DAY)
    const spot = await garden.addSpot(bedId, `spot of ${probe}`)
    await garden.placeProbe(probe, spot!.id, NOW - 40 * DAY)
  }
  seq = 0
  await measure(NOW - 35 * DAY, NOW, HOUR, () => 6.4)
})
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

/** Readings of every probe from `from` to `to`, `level(probe)` plus a little seeded noise. */
async function measure(
  from: number,
  to: number,
  every: number,
  level: (probe: string) => number,
): Promise<void> {
  const random = seededRandom(from % 1e6)
  const readings: Reading[] = []
  for (let at = from; at < to; at += every) {
    seq += 1
    for (const probe of PROBES) {
      const value = Math.round((level(probe) + (random() - 0.5) * 0.06) * 100) / 100
      readings.push({
        probe,
        boot: 1,
        seq,
        uptimeS: Math.round((at - from) / 1000),
        at,
        placedBy: 'arrival',
        arrivedAt: at,
        deviceAt: null,
        flags: 0,
        values: [{ channel: 'ph', value }],
      })
    }
  }
  await host.deps.readings.append({ readings, anchors: [], marks: [], quarantined: [] })
  await host.deps.readings.settle()
}

/** Looks at every bed now and waits until that is done. */
async function look(): Promise<void> {
  // A round that had begun before may end first; the one after it has seen everything.
  for (let round = 0; round < 2; round++) {
    const before = host.evaluation.latest(bedId)
    host.evaluation.touch()
    await until('assessed', () => host.evaluation.latest(bedId) !== before)
    // Acknowledging waits its turn behind the look, so this resolves when its alarms are stored too.
    await host.evaluation.acknowledge(-1)
  }
}

describe('the evaluation loop', () => {
  test('a quiet bed has a value and no alarm', async () => {
    await look()
    const assessment = host.evaluation.latest(bedId)!
    expect(assessment.ph).toMatchObject({ status: 'ok' })
    expect(assessment.shift).toBeNull()
    expect(host.alarms).toEqual([])
  })

  test('a bed that has lost its band is no longer out of it', async () => {
    const { garden } = host.deps
    const bed = (await garden.beds()).find(({ id }) => id === bedId)!
    await garden.changeBed(bedId, { ...bed, ownBand: { low: 7, high: 7.5 } })
    await look()
    expect(await garden.openAlarms()).toMatchObject([{ kind: 'out-of-band', returnedAt: null }])
    await garden.changeBed(bedId, { ...bed, crops: [], ownBand: null })
    await look()
    const [alarm] = await garden.openAlarms()
    expect(alarm).toMatchObject({ kind: 'out-of-band', state: 'returned' })
    expect(alarm!.sentence).toContain('no pH band any more')
  })

  test('a battery that empties over ten months is told as low', async () => {
    const channel = { name: 'bat', senses: 'bat', unit: 'V', depthM: null, from: null } as const
    const range = { low: null, high: null, resolution: null, described: true }
    await host.deps.garden.hear(
      [{ id: 'fern1', at: NOW - DAY, channels: [{ ...channel, ...range }] }],
      10,
    )
    const readings = Array.from({ length: 301 * 4 }, (_, row): Reading => {
      const at = NOW - 301 * DAY + (row + 1) * 6 * HOUR
      return {
        probe: 'fern1',
        boot: 2,
        seq: row,
        uptimeS: row * 21_600,
        at,
        placedBy: 'arrival',
        arrivedAt: at,
        deviceAt: null,
        flags: 0,
        values: [{ channel: 'bat', value: 3.35 + (0.0025 * (NOW - at)) / DAY }],
      }
    })
    await host.deps.readings.append({ readings, anchors: [], marks: [], quarantined: [] })
    await host.deps.readings.settle()
    await look()
    await look()
    expect(host.alarms.map(({ kind, subject }) => `${kind} ${subject}`)).toEqual([
      'battery-low fern1',
    ])
  })

  test('a harmful shift raises one alarm, once; it is acknowledged and comes back to normal by itself', async () => {
    await measure(NOW, NOW + 2 * HOUR, 15 * MINUTE, () => 7.9)
    host.setTime(NOW + 2 * HOUR)
    await look()
    await look()
    const open = await host.deps.garden.openAlarms()
    expect(open).toHaveLength(1)
    expect(open[0]).toMatchObject({ kind: 'harmful-shift', state: 'unacknowledged', bedId })
    expect(open[0]!.evidence.change).toBeCloseTo(1.5, 0)
    expect(open[0]!.evidence.spotsMoved).toHaveLength(3)
    expect(open[0]!.sentence).toContain('Fern bed')

    const seen = await host.call('POST', `/api/alarms/${open[0]!.id}/acknowledge`)
    expect(seen.body).toMatchObject({ state: 'acknowledged' })
    await look()
    expect(await host.deps.garden.openAlarms()).toMatchObject([{ state: 'acknowledged' }])

    await measure(NOW + 2 * HOUR, NOW + 2 * DAY, 15 * MINUTE, () => 6.45)
    for (let hour = 3; hour <= 48; hour += 5) {
      host.setTime(NOW + hour * HOUR)
      await look()
    }
    expect(await host.deps.garden.openAlarms()).toEqual([])
    const [episode] = await host.deps.garden.alarms(10)
    expect(episode).toMatchObject({ kind: 'harmful-shift', state: 'normal' })
    expect(await host.deps.garden.alarms(10)).toHaveLength(1)
  })

  test('one probe that moves alone is a probe to check, never a soil alarm', async () => {
    await measure(NOW, NOW + 12 * HOUR, 15 * MINUTE, (probe) => (probe === 'fern2' ? 8 : 6.4))
    host.setTime(NOW + 12 * HOUR)
    await look()
    const open = await host.deps.garden.openAlarms()
    expect(open.map((a) => [a.kind, a.subject])).toEqual([['probe-check', 'fern2']])
    expect(host.evaluation.latest(bedId)!.ph).toMatchObject({ status: 'ok' })
  })

  test('taking a bed out of use ends its alarms', async () => {
    await measure(NOW, NOW + 2 * HOUR, 15 * MINUTE, () => 7.9)
    host.setTime(NOW + 2 * HOUR)
    await look()
    expect(await host.deps.garden.openAlarms()).toHaveLength(1)
    await host.call('DELETE', `/api/beds/${bedId}`)
    await until('closed', async () => (await host.deps.garden.openAlarms()).length === 0)
    const [episode] = await host.deps.garden.alarms(1)
    expect(episode).toMatchObject({ state: 'normal' })
    expect(episode!.sentence).toMatch(/taken out of use/)
    expect(host.alarms.at(-1)).toMatchObject({ state: 'normal' })
  })

  test('an open alarm follows a spot that gets another name, and still ends by itself', async () => {
    await measure(NOW, NOW + 2 * HOUR, 15 * MINUTE, () => 7.9)
    host.setTime(NOW + 2 * HOUR)
    await look()
    await measure(NOW + 2 * HOUR, NOW + 2 * DAY, 15 * MINUTE, () => 6.45)
    host.setTime(NOW + 2 * DAY)
    for (const spot of await host.deps.garden.spots(bedId)) {
      const answer = await host.call('PUT', `/api/spots/${spot.id}`, { name: `new ${spot.name}` })
      expect(answer.status).toBe(200)
    }
    const [renamed] = await host.deps.garden.openAlarms()
    expect([...renamed!.evidence.spotsMoved].sort()).toEqual(PROBES.map((p) => `new spot of ${p}`))
    await look()
    host.setTime(NOW + 2 * DAY + 2 * HOUR)
    await look()
    expect(await host.deps.garden.alarms(10)).toMatchObject([
      { kind: 'harmful-shift', state: 'returned' },
    ])
  })

  test('an alarm survives a restart of the loop without being raised again', async () => {
    await measure(NOW, NOW + 2 * HOUR, 15 * MINUTE, () => 7.9)
    host.setTime(NOW + 2 * HOUR)
    await look()
    const raised: string[] = []
    const second = startEvaluation({
      readings: host.deps.readings,
      garden: host.deps.garden,
      memory: host.deps.memory,
      clock: () => NOW + 2 * HOUR + MINUTE,
      restMs: 0,
      onAssessed: () => undefined,
      onAlarms: (alarms) => raised.push(...alarms.map((a) => a.kind)),
      onFatal: (error) => {
        throw error
      },
    })
    await until('assessed', () => second.latest(bedId) !== null)
    await second.stop()
    expect(raised).toEqual([])
    expect(await host.deps.garden.openAlarms()).toHaveLength(1)
  })

  test('a store that is away is shown and tried again; held, nothing is looked at', async () => {
    let away = true
    const loop = startEvaluation({
      readings: host.deps.readings,
      memory: host.deps.memory,
      garden: {
        ...host.deps.garden,
        beds: () =>
          away
            ? Promise.reject(new HubError('HUB_STORE_UNAVAILABLE', 'disk away', { retry: true }))
            : host.deps.garden.beds(),
      },
      clock: () => NOW,
      restMs: 5,
      onAssessed: () => undefined,
      onAlarms: () => undefined,
      onFatal: (error) => {
        throw error
      },
    })
    await until('the trouble is shown', () => loop.state().problem === 'disk away')
    away = false
    await until('it went on', () => loop.state().problem === null && loop.latest(bedId) !== null)
    loop.hold()
    const before = loop.latest(bedId)
    loop.touch()
    await new Promise((resolve) => setTimeout(resolve, 50))
    expect(loop.latest(bedId)).toBe(before)
    loop.release()
    await until('it goes on', () => loop.latest(bedId) !== before)
    await loop.stop()
  })

  test('a clock that is set back by a year does not put the loop to sleep', async () => {
    let time = NOW
    const loop = startEvaluation({
      readings: host.deps.readings,
      garden: host.deps.garden,
      memory: host.deps.memory,
      clock: () => time,
      restMs: 20,
      onAssessed: () => undefined,
      onAlarms: () => undefined,
      onFatal: (error) => {
        throw error
      },
    })
    await until('a first look', () => loop.latest(bedId) !== null)
    time = NOW - 365 * DAY
    loop.touch()
    await until('a look by the new time', () => loop.latest(bedId)?.at === time, 5_000)
    time = NOW
    loop.touch()
    await until('and forward again', () => loop.latest(bedId)?.at === NOW, 5_000)
    await loop.stop()
  })

  test('the alarms of a bed are found however many others are newer', async () => {
    await measure(NOW, NOW + 2 * HOUR, 15 * MINUTE, () => 7.9)
    host.setTime(NOW + 2 * HOUR)
    await look()
    const [alarm] = await host.deps.garden.openAlarms()
    const other = await host.deps.garden.addBed(
      {
        name: 'Moss bed',
        areaM2: 1,
        depthM: 0.2,
        texture: 'loam',
        crops: [],
        ownBand: null,
      },
      NOW,
    )
    await host.deps.garden.saveAlarms(
      [1, 2, 3].map((hours) => ({
        alarm: {
          ...alarm!,
          id: 0,
          bedId: other.id,
          state: 'normal' as const,
          raisedAt: NOW + hours * HOUR,
        },
        at: NOW + hours * HOUR,
        what: 'raised' as const,
        by: null,
        note: '',
      })),
    )
    const mine = await host.call('GET', `/api/alarms?bed=${bedId}&limit=1`)
    expect(mine.body).toMatchObject([{ id: alarm!.id }])
    const others = await host.call('GET', `/api/alarms?bed=${other.id}&limit=2`)
    expect(others.body).toHaveLength(2)
  })

  test('a mistake of ours is fatal, not swallowed', async () => {
    const fatal: unknown[] = []
    const loop = startEvaluation({
      readings: host.deps.readings,
      memory: host.deps.memory,
      garden: { ...host.deps.garden, beds: () => Promise.reject(new TypeError('ours')) },
      clock: () => NOW,
      restMs: 0,
      onAssessed: () => undefined,
      onAlarms: () => undefined,
      onFatal: (error) => fatal.push(error),
    })
    await until('it is told', () => fatal.length > 0)
    expect(fatal[0]).toBeInstanceOf(TypeError)
    await loop.stop()
  })
})
