import { PLAIN_BOOT, type BootAccount, type PlacedReading } from '../../model/reading.ts'
import type { ProbeAccount } from '../schemas/probe-account.ts'
import { say } from '../../words/say.ts'
import { counted } from '../../words/figure.ts'

type Figures = ProbeAccount['total']

/** More boots than anybody reads; a probe that keeps restarting has thousands. */
const BOOTS_SHOWN = 100

const NOTHING: Figures = {
  received: 0,
  late: 0,
  duplicates: 0,
  missing: 0,
  writtenOff: 0,
  conflicting: 0,
  placed: { arrival: 0, device: 0, anchors: 0, bounded: 0, file: 0 },
}

/** @param boots of one probe, newest first; `newest`: readings, newest first */
export function accountView(
  boots: readonly BootAccount[],
  newest: readonly PlacedReading[],
): ProbeAccount {
  const total = boots.map(figuresOf).reduce(sum, NOTHING)
  return {
    total,
    boots: boots.slice(0, BOOTS_SHOWN).map((boot) => ({
      boot: boot.boot,
      firstAt: Math.round(boot.firstAt),
      lastAt: Math.round(boot.lastAt),
      ...figuresOf(boot),
    })),
    newest: newest.map(({ boot, seq, at, arrivedAt, placedBy }) => ({
      boot,
      seq,
      at: Math.round(at),
      arrivedAt: Math.round(arrivedAt),
      placedBy,
    })),
    sentences: sentencesOf(total, boots),
  }
}

function figuresOf(boot: BootAccount): Figures {
  const { received, late, duplicates, missing, lost, conflicting, placed } = boot
  return {
    received,
    late,
    duplicates,
    missing,
    writtenOff: lost,
    conflicting,
    placed: { ...placed },
  }
}

function sum(a: Figures, b: Figures): Figures {
  return {
    received: a.received + b.received,
    late: a.late + b.late,
    duplicates: a.duplicates + b.duplicates,
    missing: a.missing + b.missing,
    writtenOff: a.writtenOff + b.writtenOff,
    conflicting: a.conflicting + b.conflicting,
    placed: {
      arrival: a.placed.arrival + b.placed.arrival,
      device: a.placed.device + b.placed.device,
      anchors: a.placed.anchors + b.placed.anchors,
      bounded: a.placed.bounded + b.placed.bounded,
      file: a.placed.file + b.placed.file,
    },
  }
}

const readings = (n: number): string => counted(n, 'reading')

/** What happened, how sure, what to do: the worst first. */
function sentencesOf(total: Figures, boots: readonly BootAccount[]): string[] {
  if (total.received + total.missing + total.writtenOff === 0)
    return [say`No reading has come yet, so nothing can be said of losses.`]
  const told: string[] = []
  if (total.conflicting > 0) {
    const where = boots.filter(({ conflicting }) => conflicting > 0).map(({ boot }) => boot)
    const named = where.slice(0, 5).join(', ')
    told.push(
      where.length > 5
        ? say`${readings(total.conflicting)} came under a number that was taken, with other content (boot ${named} and others). That is certain, and a fault of the firmware: it used a boot id twice. The first is kept, the other is on the settings page; let the probe take a new boot id whenever it loses count.`
        : say`${readings(total.conflicting)} came under a number that was taken, with other content (boot ${named}). That is certain, and a fault of the firmware: it used a boot id twice. The first is kept, the other is on the settings page; let the probe take a new boot id whenever it loses count.`,
    )
  }
  if (total.writtenOff > 0) {
    told.push(
      total.writtenOff === 1
        ? say`${readings(total.writtenOff)} is lost for good: the probe said that it no longer holds it, so that is certain. If it happens again, look for long outages of the link, and give the probe a larger memory.`
        : say`${readings(total.writtenOff)} are lost for good: the probe said that it no longer holds them, so that is certain. If it happens again, look for long outages of the link, and give the probe a larger memory.`,
    )
  }
  const [present, ...earlier] = boots.filter(({ boot }) => boot < PLAIN_BOOT)
  const expected = present?.missing ?? 0
  if (expected > 0) {
    told.push(
      expected === 1
        ? say`${readings(expected)} of the present boot was measured and did not come: the numbers between are absent. The probe may still hold them; it is asked for them, nothing has to be done.`
        : say`${readings(expected)} of the present boot were measured and did not come: the numbers between are absent. The probe may still hold them; it is asked for them, nothing has to be done.`,
    )
  }
  const left = earlier.reduce((n, { missing }) => n + missing, 0)
  if (left > 0) {
    told.push(
      say`${readings(left)} of earlier boots did not come. The probe has started anew since, so they are probably gone, unless it keeps them over a loss of power; look at its supply if it restarts often.`,
    )
  }
  if (total.placed.bounded > 0) {
    const { bounded } = total.placed
    told.push(
      bounded === 1
        ? say`Of ${readings(bounded)} nobody can tell when it was measured, only the latest moment it can have been. They are kept and stay out of the trends. A probe that reaches the hub once in every boot avoids this.`
        : say`Of ${readings(bounded)} nobody can tell when they were measured, only the latest moment it can have been. They are kept and stay out of the trends. A probe that reaches the hub once in every boot avoids this.`,
    )
  }
  if (told.length === 0) {
    told.push(
      total.late > 0
        ? say`Nothing is lost: every reading up to the newest one is stored, those too that came late. That is certain for what the probe counted; what it measured after the newest reading, or lost with its power before sending, cannot be known here.`
        : say`Nothing is lost: every reading up to the newest one is stored. That is certain for what the probe counted; what it measured after the newest reading, or lost with its power before sending, cannot be known here.`,
    )
  }
  return told
}
