import { describe, expect, test } from 'vitest'
import { advanceHub, advanceProbe } from '#hub/alerts/advance.ts'
import { fullAt } from '#hub/alerts/disk-fill.ts'
import type { HubLook } from '#hub/alerts/hub-look.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { alarmBook, hubLook, probeLook, T0 } from './looks.ts'

function player() {
  const book = alarmBook()
  return {
    book,
    look: (at: number, change: Partial<HubLook> = {}) =>
      book.take(advanceHub(book.open, hubLook({ at, ...change }))),
  }
}
const down = (since: number): Partial<HubLook> => ({
  troubles: [{ subject: 'broker', since, sentence: 'The hub does not reach the broker.' }],
})

describe('trouble of the hub', () => {
  test('a broker away for less than five minutes is nobody’s business; then it is told once', () => {
    const p = player()
    expect(p.look(T0 + 5 * MINUTE - 1, down(T0))).toEqual([])
    expect(p.look(T0 + 5 * MINUTE, down(T0))).toMatchObject([
      {
        what: 'raised',
        alarm: { kind: 'hub-trouble', subject: 'broker', bedId: null, priority: 'high' },
      },
    ])
    expect(p.look(T0 + HOUR, down(T0))).toEqual([])
  })

  test('a link that comes and goes is one trouble', () => {
    const p = player()
    p.look(T0 + 5 * MINUTE, down(T0))
    for (let minute = 6; minute < 60; minute += 2) {
      p.look(T0 + minute * MINUTE, minute % 4 === 0 ? down(T0 + minute * MINUTE) : {})
    }
    expect(p.book.changes.map(({ what }) => what)).toEqual(['raised'])
    p.look(T0 + 60 * MINUTE)
    p.look(T0 + 70 * MINUTE)
    expect(p.book.changes.map(({ what }) => what)).toEqual(['raised', 'returned'])
  })

  test('a full disk is told by what is left, with a deadband, and by when it will be full', () => {
    const disk = (freeBytes: number, fullAtTime: number | null = null) => ({
      disk: { freeBytes, totalBytes: 64e9, fullAt: fullAtTime },
    })
    const p = player()
    expect(p.look(T0, disk(1.01e9))).toEqual([])
    expect(p.look(T0, disk(0.99e9))).toMatchObject([{ alarm: { subject: 'disk' } }])
    p.look(T0 + HOUR, disk(1.4e9))
    expect(p.book.open[0]!.overSince).toBeNull()
    p.look(T0 + 2 * HOUR, disk(1.6e9))
    expect(p.book.open[0]!.overSince).toBe(T0 + 2 * HOUR)

    const q = player()
    expect(q.look(T0, disk(20e9, T0 + 31 * DAY))).toEqual([])
    expect(q.look(T0, disk(20e9, T0 + 12 * DAY))).toMatchObject([
      { alarm: { subject: 'disk', priority: 'medium' } },
    ])
    expect(q.book.open[0]!.sentence).toBe(
      'The disk of the hub is filling up: 20.0 GB are left, enough for about 12 days at this pace.',
    )
    expect(q.look(T0 + HOUR, { disk: null }), 'what cannot be asked ends nothing').toEqual([])
  })

  test('every probe silent at once is one alarm about the hub, none about each', () => {
    const p = player()
    const probes = { placed: 3, silent: 3, heardAt: T0 - 3 * HOUR }
    expect(p.look(T0, { probes: { ...probes, silent: 2 } })).toEqual([])
    expect(p.look(T0, { probes })).toMatchObject([{ alarm: { subject: 'broker' } }])
    const silent = probeLook({ at: T0, lastAt: T0 - 3 * HOUR })
    expect(advanceProbe(p.book.open, silent)).toEqual([])
    expect(advanceProbe([], silent)).toMatchObject([{ alarm: { kind: 'probe-silent' } }])
  })

  test('a full disk does not silence the probes', () => {
    const p = player()
    p.look(T0, { disk: { freeBytes: 1e6, totalBytes: 64e9, fullAt: null } })
    expect(advanceProbe(p.book.open, probeLook({ at: T0, lastAt: T0 - 3 * HOUR }))).toHaveLength(1)
  })
})

describe('when a disk is full', () => {
  const samples = (bytesPerDay: number, days: number, step = HOUR) =>
    Array.from({ length: Math.round((days * DAY) / step) + 1 }, (_, i) => ({
      at: T0 + i * step,
      freeBytes: 30e9 - (bytesPerDay * i * step) / DAY,
    }))

  test('is told from its pace: 30 GB at 1 GB a day last 30 days from the first sample', () => {
    expect((fullAt(samples(1e9, 3))! - T0) / DAY).toBeCloseTo(30, 0)
  })

  test('not from less than a day, not when it empties, not years ahead', () => {
    expect(fullAt(samples(1e9, 0.9))).toBeNull()
    expect(fullAt([])).toBeNull()
    expect(fullAt(samples(-1e9, 3))).toBeNull()
    expect(fullAt(samples(1e6, 3))).toBeNull()
  })

  test('a file that came and went does not count', () => {
    const bumpy = samples(1e9, 3).map((sample, i) =>
      i === 70 ? { ...sample, freeBytes: 1e9 } : sample,
    )
    expect((fullAt(bumpy)! - T0) / DAY).toBeCloseTo(30, 0)
  })
})
