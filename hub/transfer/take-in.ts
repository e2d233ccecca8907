import type { Channel, Probe } from '../model/probe.ts'
import { guessChannel } from '../wire/channels.ts'
import { CHANNEL_NAME, PROBE_ID, RESERVED_IDS } from '../wire/topic.ts'
import { conversion, unitsFor } from './convert-unit.ts'
import type { Conversion } from './convert-unit.ts'
import type { FileReading } from './file-reading.ts'
import type { ImportMap } from './import-map.ts'
import type {
  BadRow,
  ImportChannel,
  ImportProbe,
  ImportReport,
  PreviewRow,
} from './import-report.ts'
import type { RawRow, RawValue } from './read-import.ts'
import { say } from '../words/say.ts'

/** More of one file are counted, not listed. */
const MOST_BAD = 100
const PREVIEW_ROWS = 6
/** As of probes that send. */
const MOST_CHANNELS = 16
/** Readings of one file; it is stored in one go. */
const MOST_READINGS = 1_000_000
/** Seconds taken for milliseconds would lie in 1970. */
const EARLIEST = Date.UTC(2000, 0, 1)
const AHEAD_MS = 86_400_000
/** Spread of a channel's samples; no channel of its own. */
const SPREAD = /^(.+)\.s$/

export interface Garden {
  readonly probes: readonly Probe[]
  readonly channels: readonly Channel[]
}

interface Target {
  readonly name: string
  readonly conversion: Conversion
}
interface Draft {
  readonly line: number
  readonly values: Map<string, number>
}
type Making = { -readonly [K in keyof ImportProbe]: ImportProbe[K] } & {
  channels: ImportChannel[]
}

/** Takes rows in one after the other and holds each against the garden and against those before. */
export interface TakingIn {
  add(row: RawRow): void
  /** A reading that the store has with another value. */
  contradict(row: BadRow): void
  contradicting(): number
  /** Ascending in time, probe by probe. */
  readings(): readonly (FileReading & { readonly line: number })[]
  report(present: number): ImportReport
}

/** @param now epoch ms; what lies more than a day after it is a slip */
export function takeIn(map: ImportMap, garden: Garden, now: number): TakingIn {
  const knownProbes = new Set(garden.probes.map(({ id }) => id))
  const mapped = new Map(map.channels.map((one) => [one.column, one]))
  const targets = new Map<string, Target | string>()
  const probes = new Map<string, Making>()
  const drafts = new Map<string, Map<number, Draft>>()
  const bad: BadRow[] = []
  const preview: PreviewRow[] = []
  let [rows, empty, badCount, readings, contradicting] = [0, 0, 0, 0, 0]

  function refuse(row: BadRow): void {
    badCount++
    if (bad.length < MOST_BAD) bad.push(row)
  }

  /** The channel a value goes to and how it is converted, or what is expected instead. */
  function targetOf(probe: Making, { column, unit }: RawValue): Target | string {
    const key = `${probe.id}\n${column}\n${unit ?? ''}`
    let target = targets.get(key)
    if (target === undefined) targets.set(key, (target = findTarget(probe, column, unit)))
    return target
  }

  function findTarget(probe: Making, column: string, rowUnit: string | null): Target | string {
    const chosen = mapped.get(column)
    const name = chosen?.channel ?? column
    const spread = SPREAD.exec(name)
    const base = spread?.[1] ?? name
    if (!CHANNEL_NAME.test(base)) {
      return say`a channel name of 1 to 8 lower-case letters and digits, a letter first`
    }
    const stored = garden.channels.find((c) => c.probe === probe.id && c.name === base)
    const guess = guessChannel(base)
    const senses = stored?.senses ?? chosen?.senses ?? guess.senses
    const fileUnit = rowUnit !== null && rowUnit !== '' ? rowUnit : (chosen?.unit ?? '')
    const unit =
      stored?.unit ?? (senses === guess.senses && guess.unit !== '' ? guess.unit : fileUnit)
    const found = conversion(fileUnit, unit)
    if (found === null) {
      return say`a unit that ${base} of ${probe.id} can be read from (${unitsFor(unit).join(', ')}), not ${fileUnit}`
    }
    if (spread === null && !probe.channels.some((c) => c.name === base)) {
      if (probe.channels.length >= MOST_CHANNELS) {
        return say`at most ${MOST_CHANNELS} channels of one probe`
      }
      probe.channels.push({ name: base, senses, unit, isNew: stored === undefined })
    }
    // A spread has no zero point of its own.
    return { name, conversion: spread === null ? found : { ...found, add: 0 } }
  }

  function probeOf(id: string): Making {
    let probe = probes.get(id)
    if (probe === undefined) {
      const isNew = !knownProbes.has(id)
      probe = { id, isNew, readings: 0, from: Infinity, to: -Infinity, channels: [] }
      probes.set(id, probe)
    }
    return probe
  }

  function take(row: Extract<RawRow, { kind: 'row' }>): void {
    const { line, at } = row
    if (!PROBE_ID.test(row.probe) || RESERVED_IDS.includes(row.probe)) {
      refuse({
        line,
        column: row.probeColumn,
        expected: say`the id of a probe: 3 to 23 lower-case letters and digits, a letter first`,
        got: row.probe,
      })
      return
    }
    if (at < EARLIEST || at > now + AHEAD_MS) {
      const got = Math.abs(at) <= 8.64e15 ? new Date(at).toISOString() : String(at)
      refuse({ line, column: row.timeColumn, expected: say`a time from 2000 until now`, got })
      return
    }
    if (row.values.length === 0) {
      empty++
      return
    }
    const probe = probeOf(row.probe)
    const read: { channel: string; value: number }[] = []
    for (const value of row.values) {
      const target = targetOf(probe, value)
      if (typeof target === 'string') {
        const got = value.column === '' ? say`nothing` : value.column
        refuse({ line, column: value.column, expected: target, got })
        return
      }
      const { factor, add } = target.conversion
      // 12.3 V is 12300 mV, not 12300.000000000002.
      const converted =
        factor === 1 && add === 0
          ? value.value
          : Number((value.value * factor + add).toPrecision(12))
      read.push({ channel: target.name, value: converted })
    }
    let moments = drafts.get(row.probe)
    if (moments === undefined) drafts.set(row.probe, (moments = new Map<number, Draft>()))
    let draft = moments.get(at)
    if (draft === undefined) {
      if (readings >= MOST_READINGS) {
        refuse({
          line,
          column: null,
          expected: say`a file of at most ${MOST_READINGS} readings; cut it in two`,
          got: say`more`,
        })
        return
      }
      readings++
      probe.readings++
      moments.set(at, (draft = { line, values: new Map() }))
    }
    for (const { channel, value } of read) {
      const first = draft.values.get(channel)
      if (first !== undefined && !Object.is(first, value)) {
        refuse({
          line,
          column: null,
          expected: say`one value of ${channel} of ${row.probe} for ${new Date(at).toISOString()} (line ${draft.line}: ${first})`,
          got: String(value),
        })
        return
      }
      draft.values.set(channel, value)
    }
    probe.from = Math.min(probe.from, at)
    probe.to = Math.max(probe.to, at)
    if (preview.length < PREVIEW_ROWS) preview.push({ line, at, probe: row.probe, values: read })
  }

  return {
    add(row) {
      rows++
      if (row.kind === 'row') take(row)
      else {
        const { line, column, expected, got } = row
        refuse({ line, column, expected, got })
      }
    },
    contradict(row) {
      contradicting++
      refuse(row)
    },
    contradicting: () => contradicting,
    readings: () =>
      [...drafts].flatMap(([probe, moments]) =>
        [...moments]
          .sort(([a], [b]) => a - b)
          .map(([at, { line, values }]) => ({
            probe,
            at,
            line,
            values: Array.from(values, ([channel, value]) => ({ channel, value })),
          })),
      ),
    report: (present) => ({
      rows,
      empty,
      badCount,
      bad: bad.toSorted((a, b) => a.line - b.line),
      probes: [...probes.values()].filter((probe) => probe.readings > 0),
      readings,
      present,
      preview,
    }),
  }
}
