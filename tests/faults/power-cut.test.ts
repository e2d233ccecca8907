import {
  copyFileSync,
  openSync,
  readFileSync,
  statSync,
  writeFileSync,
  writeSync,
  closeSync,
} from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import type { HubError } from '#hub/errors.ts'
import type { BootMark } from '#hub/model/reading.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { seededRandom } from '../support/random.ts'
import { batchOf, sampleReading } from '../support/sample-readings.ts'
import { tempDir } from '../support/temp-dir.ts'
import { repeats } from './support/repeats.ts'

/*
 * What a power cut leaves: everything that was synced, and of what was written since any part, in any order.
 * The write-ahead log is cut, torn and filled with rubbish behind the last commit that was told to a probe,
 * and before it, as a disk leaves it that says "synced" and has not.
 */

/** Cuts in one run; `LOAMLINE_TEST_CUTS` sets another number. */
const CUTS = repeats('LOAMLINE_TEST_CUTS', 16)
const BATCHES = 40
const ROWS = 12
const FRAME_HEADER = 24
const WAL_HEADER = 32

const AT = 1_750_000_000_000
const fail = (error: HubError): never => {
  throw error
}
const open = (file: string) => openReadingStore(file, { onDeath: fail, onTrouble: fail })

/** Batch `k`: readings k x ROWS and on, with the mark that says how far the probe may be told. */
const batch = (k: number) => {
  const top = (k + 1) * ROWS - 1
  const mark: BootMark = {
    probe: 'row1',
    boot: 1,
    top,
    lost: 0,
    missing: 0,
    highest: top,
    lastAt: AT + top * 60_000,
  }
  return batchOf({
    readings: Array.from({ length: ROWS }, (_, i) => {
      const seq = k * ROWS + i
      return sampleReading({ seq, at: AT + seq * 60_000, values: { m1: seq, st: seq / 4 } })
    }),
    marks: [mark],
  })
}

interface Moment {
  /** Batches acknowledged. */
  readonly kept: number
  /** Bytes of the write-ahead log then. */
  readonly bytes: number
}

/** A store under work, its files as they lie on the disk at the end, and how long the log was at each commit. */
async function recordWork(folder: string): Promise<readonly Moment[]> {
  const file = join(folder, 'live.db')
  const store = await open(file)
  const moments: Moment[] = []
  for (let k = 0; k < BATCHES; k++) {
    await store.append(batch(k))
    moments.push({ kept: k + 1, bytes: statSync(`${file}-wal`).size })
    // Now and then the log goes into the tables, as it does in a quiet moment.
    if (k % 7 === 6) await store.settle()
  }
  copyFileSync(file, join(folder, 'cut.db'))
  copyFileSync(`${file}-wal`, join(folder, 'cut.db-wal'))
  await store.close()
  return moments
}

interface Found {
  readonly batches: number
  readonly whole: boolean
}

/** Opens what is left: which batches are there, each whole, once and told to the probe no further. */
async function look(folder: string, db: Buffer, wal: Buffer): Promise<Found> {
  const file = join(folder, 'left.db')
  for (const end of ['-wal', '-shm']) writeFileSync(file + end, '')
  writeFileSync(file, db)
  writeFileSync(`${file}-wal`, wal)
  const store = await open(file)
  try {
    await store.settle()
    const always = { from: 0, to: Number.MAX_SAFE_INTEGER }
    const steps = ['raw', 'hour', 'day'] as const
    const [raw, hours, days] = await store.buckets(
      steps.map((step) => ({ probe: 'row1', channel: 'm1', ...always, step })),
    )
    const rows = raw!.time.length
    const sum = (column: Float64Array): number => column.reduce((a, b) => a + b, 0)
    const { mark } = await store.recall('row1', 1)
    const whole =
      rows % ROWS === 0 &&
      raw!.mean.every((value, i) => value === i) &&
      sum(hours!.count) === rows &&
      sum(days!.count) === rows &&
      (mark?.top ?? -1) === rows - 1 &&
      (await store.counts()).readings === rows
    // It goes on where it was, and takes what the probe sends again.
    const kept = rows / ROWS
    for (let k = kept; k < kept + 2; k++) await store.append(batch(k))
    await store.settle()
    const goesOn = (await store.counts()).readings === rows + 2 * ROWS
    return { batches: kept, whole: whole && goesOn }
  } finally {
    await store.close()
  }
}

const RUBBISH = ['nothing', 'zeros', 'noise', 'old pages'] as const

/** The log up to `bytes`, and behind it what a disk may have put there. */
function torn(
  wal: Buffer,
  bytes: number,
  kind: (typeof RUBBISH)[number],
  random: () => number,
): Buffer {
  const rest = Math.floor(random() * 3 * 4120)
  const behind = Buffer.alloc(kind === 'nothing' ? 0 : rest)
  if (kind === 'noise') for (let i = 0; i < rest; i++) behind[i] = Math.floor(random() * 256)
  // Frames of the same log at a place where they do not belong.
  if (kind === 'old pages') wal.copy(behind, 0, WAL_HEADER, WAL_HEADER + rest)
  return Buffer.concat([wal.subarray(0, bytes), behind])
}

test(
  'power cut: the log torn anywhere behind a confirmed commit keeps everything confirmed',
  { timeout: 120_000 },
  async () => {
    using folder = tempDir()
    const moments = await recordWork(folder.path)
    const db = readFileSync(join(folder.path, 'cut.db'))
    const wal = readFileSync(join(folder.path, 'cut.db-wal'))
    const random = seededRandom(31)
    for (let cut = 0; cut < CUTS; cut++) {
      const { kept, bytes } = moments[Math.floor(random() * moments.length)]!
      const next = moments.find((moment) => moment.bytes > bytes)?.bytes ?? wal.length
      // Of the commit under way any part may be there.
      const end = cut % 3 === 0 ? bytes : bytes + Math.floor(random() * (next - bytes))
      const kind = RUBBISH[cut % RUBBISH.length]!
      const found = await look(folder.path, db, torn(wal, end, kind, random))
      const name = `${kind} behind byte ${end}, ${kept} batches confirmed`
      expect(found.whole, name).toBe(true)
      expect(found.batches, name).toBeGreaterThanOrEqual(kept)
      expect(found.batches, name).toBeLessThanOrEqual(kept + 1)
    }
  },
)

test(
  'power cut: a disk that had not kept what it called synced leaves whole batches and says no more to probes',
  { timeout: 120_000 },
  async () => {
    using folder = tempDir()
    const moments = await recordWork(folder.path)
    const db = readFileSync(join(folder.path, 'cut.db'))
    const wal = readFileSync(join(folder.path, 'cut.db-wal'))
    const random = seededRandom(32)
    for (let cut = 0; cut < CUTS; cut++) {
      const at = Math.floor(random() * wal.length)
      const left = Buffer.from(wal)
      let kind = 'cut'
      let found: Found
      if (cut % 2 === 0) found = await look(folder.path, db, left.subarray(0, at))
      else {
        kind = 'one bit turned'
        left[at] = left[at]! ^ (1 << Math.floor(random() * 8))
        found = await look(folder.path, db, left)
      }
      const sure = moments.findLast(({ bytes }) => bytes <= at)?.kept ?? 0
      expect(found.whole, `${kind} at ${at}`).toBe(true)
      expect(found.batches, `${kind} at ${at}`).toBeGreaterThanOrEqual(sure)
    }
  },
)

test(
  'power cut: in the middle of a checkpoint, any of its pages written, nothing is lost',
  { timeout: 120_000 },
  async () => {
    using folder = tempDir()
    await recordWork(folder.path)
    const file = join(folder.path, 'cut.db')
    const before = readFileSync(file)
    const wal = readFileSync(`${file}-wal`)
    const whole = new DatabaseSync(file)
    whole.exec('PRAGMA wal_checkpoint(TRUNCATE)')
    whole.close()
    const after = readFileSync(file)
    const page = wal.readUInt32BE(8)
    expect((wal.length - WAL_HEADER) % (page + FRAME_HEADER)).toBe(0)
    const random = seededRandom(33)
    for (let cut = 0; cut < Math.ceil(CUTS / 4); cut++) {
      const db = Buffer.from(cut % 2 === 0 ? before : Buffer.concat([before, Buffer.alloc(page)]))
      const mixed = openSync(file, 'w')
      writeSync(mixed, db)
      for (let start = 0; start < after.length; start += page) {
        if (random() < 0.5) writeSync(mixed, after, start, page, start)
      }
      closeSync(mixed)
      const found = await look(folder.path, readFileSync(file), wal)
      expect(found).toEqual({ batches: BATCHES, whole: true })
    }
  },
)
