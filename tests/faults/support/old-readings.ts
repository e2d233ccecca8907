import { seededRandom } from '../../support/random.ts'
import { databaseOf } from './old-garden.ts'

/*
 * Readings as layouts 1 and 2 kept them: a log row per reading, values one row each, hours and days beside them.
 */

const HOUR = 3_600_000
const DAY = 24 * HOUR
const START = 1_749_945_600_000
const STEP = 10 * 60_000
const CHANNELS = ['phmv', 'm1', 'st'] as const
/** Codes of how a reading got its time: arrival, anchors, bounded. */
const [ARRIVAL, ANCHORS, BOUNDED] = [0, 2, 3]

export interface OldReading {
  readonly probe: string
  readonly seq: number
  readonly at: number
  readonly placedBy: number
  readonly values: Readonly<Record<(typeof CHANNELS)[number], number | null>>
}

const valueIn = (value: number | null): bigint | number | null => {
  if (value === null) return null
  const scaled = value * 10_000
  return Number.isSafeInteger(scaled) && scaled / 10_000 === value ? BigInt(scaled) : value
}

function packed(values: OldReading['values']): Uint8Array {
  const parts = Object.entries(values).map(([channel, value]) => {
    const part = Buffer.alloc(1 + channel.length + 8)
    part.writeUInt8(channel.length, 0)
    part.write(channel, 1)
    part.writeDoubleLE(value ?? NaN, 1 + channel.length)
    return part
  })
  return Buffer.concat(parts)
}

export interface OldReadings {
  /** Everything acknowledged, settled or not, each once. */
  readonly readings: readonly OldReading[]
  /** How many of them had not been settled when the version before ended. */
  readonly unsettled: number
  readonly duplicates: number
}

/** Writes a readings database of layout 1 or 2 with a past of several days. */
export function writeOldReadings(file: string, layout: 1 | 2, perProbe: number): OldReadings {
  const db = databaseOf(file, 'readings', layout)
  const random = seededRandom(71)
  const readings: OldReading[] = []
  for (const probe of ['row1', 'row2', 'row3']) {
    for (let seq = 0; seq < perProbe; seq++) {
      const failed = seq % 97 === 5
      readings.push({
        probe,
        seq,
        at: START + seq * STEP,
        placedBy: seq % 211 === 7 ? BOUNDED! : seq % 50 === 49 ? ANCHORS! : ARRIVAL!,
        values: {
          phmv: failed ? null : Math.round(random() * 2000) / 16,
          m1: Math.floor(random() * 4096),
          // A value that is no ten-thousandth of anything.
          st: seq % 13 === 0 ? random() * 30 : Math.round(random() * 300) / 10,
        },
      })
    }
  }
  const unsettled = 60
  const isSettled = ({ seq }: OldReading): boolean => seq < perProbe - unsettled / 3
  try {
    db.exec('BEGIN')
    const addProbe = db.prepare('INSERT INTO probe VALUES (?, ?)')
    const addSeries = db.prepare('INSERT INTO series VALUES (?, ?, ?, ?)')
    const series = new Map<string, number>()
    for (const [i, probe] of ['row1', 'row2', 'row3'].entries()) {
      addProbe.run(i + 1, probe)
      for (const channel of CHANNELS) {
        for (const timed of [1, 0]) {
          const id = series.size + 1
          series.set(`${probe} ${channel} ${timed}`, id)
          addSeries.run(id, i + 1, channel, timed)
        }
      }
    }
    const addReading = db.prepare('INSERT INTO reading VALUES (?, 4, ?, ?, NULL, ?, ?, ?, NULL, 0)')
    const addValue = db.prepare('INSERT INTO r VALUES (?, ?, ?)')
    const addLog = db.prepare(
      `INSERT INTO log (probe, boot, seq, uptime, at, placed_by, arrived_at, device_at, flags, vals)
       VALUES (?, 4, ?, ?, ?, ?, ?, NULL, 0, ?)`,
    )
    const log = (one: OldReading): void =>
      void addLog.run(
        one.probe,
        one.seq,
        3 + one.seq * 600,
        one.at,
        one.placedBy,
        one.at + 5,
        packed(one.values),
      )
    const buckets = new Map<string, number[]>()
    const newest = new Map<number, { t: number; v: bigint | number | null }>()
    for (const one of readings) {
      if (!isSettled(one)) {
        log(one)
        continue
      }
      const probe = Number(one.probe.slice(3))
      addReading.run(probe, one.seq, one.at, 3 + one.seq * 600, one.placedBy, one.at + 5)
      for (const channel of CHANNELS) {
        const timed = one.placedBy === BOUNDED ? 0 : 1
        const id = series.get(`${one.probe} ${channel} ${timed}`)!
        const value = one.values[channel]
        const v = valueIn(value)
        addValue.run(id, one.at, v)
        if (timed === 0) continue
        newest.set(id, { t: one.at, v })
        for (const [table, span] of [
          ['hourly', HOUR],
          ['daily', DAY],
        ] as const) {
          const key = `${table} ${id} ${Math.floor(one.at / span) * span}`
          const bucket = buckets.get(key) ?? []
          if (value !== null) bucket.push(value)
          buckets.set(key, bucket)
        }
      }
    }
    for (const [key, values] of buckets) {
      const [table, id, t] = key.split(' ')
      const sorted = values.toSorted((a, b) => a - b)
      const n = sorted.length
      const half = Math.floor(n / 2)
      const median = n % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2
      const mean = values.reduce((a, b) => a + b, 0) / n
      const some = n === 0 ? [null, null, null, null] : [sorted[0]!, mean, sorted[n - 1]!, median]
      db.prepare(`INSERT INTO ${table} VALUES (?, ?, ?, ?, ?, ?, ?)`).run(
        Number(id),
        Number(t),
        n,
        ...some,
      )
    }
    for (const [id, { t, v }] of newest)
      db.prepare('INSERT INTO latest VALUES (?, ?, ?)').run(id, t, v)
    // The same again after it was settled, still in the log.
    const again = readings.filter((one) => isSettled(one) && one.seq % 100 === 3)
    for (const one of again) log(one)
    db.exec(`UPDATE cursor SET i = 0 WHERE name = 'settled'`)
    const settled = readings.filter(isSettled).length
    db.prepare(`UPDATE tally SET n = ? WHERE name = 'readings'`).run(settled)
    db.exec(`UPDATE tally SET n = 2 WHERE name = 'quarantined'`)
    db.exec(`INSERT INTO quarantine (arrived_at, topic, payload, reason) VALUES
      (${START}, 'lm1/row9/up/r', x'7b7d', 'no'), (${START + 1}, 'lm1/row9/up/r', x'7b', 'no again')`)
    for (const probe of ['row1', 'row2', 'row3']) {
      const top = perProbe - 1
      const lastAt = START + top * STEP
      db.prepare('INSERT INTO mark (probe, boot, top, lost, last_at) VALUES (?, 4, ?, 0, ?)').run(
        probe,
        top,
        lastAt,
      )
      if (layout === 2) {
        db.prepare('UPDATE mark SET highest = ?, missing = 0 WHERE probe = ?').run(top, probe)
        const mine = readings.filter((one) => one.probe === probe && isSettled(one))
        const by = (code: number): number => mine.filter((one) => one.placedBy === code).length
        db.prepare('INSERT INTO account VALUES (?, 4, ?, 0, 0, 0, ?, 0, ?, ?, 0, ?, ?)').run(
          probe,
          mine.length,
          by(ARRIVAL!),
          by(ANCHORS!),
          by(BOUNDED!),
          START + 5,
          lastAt,
        )
      }
      db.prepare('INSERT INTO anchor VALUES (?, 4, 3, ?)').run(probe, START)
    }
    db.exec('COMMIT')
    return { readings, unsettled, duplicates: again.length }
  } finally {
    db.close()
  }
}
