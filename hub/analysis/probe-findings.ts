import type { ProbeFinding } from './assessment.ts'
import { ph1 } from './format.ts'
import type { ProbeNow, Shown } from './probe-now.ts'
import { FLAG } from './quality/flags.ts'
import type { Apart } from './shift/find-apart.ts'

/** What keeps a probe's pH from being believed, and what only needs telling. */
export function probeFindings(
  probes: readonly { readonly probe: ProbeNow; readonly shown: Shown }[],
  apart: readonly Apart[],
): ProbeFinding[] {
  return probes.flatMap(({ probe, shown }) => {
    const { feed } = probe
    const findings: ProbeFinding[] = []
    const tell = (
      kind: ProbeFinding['kind'],
      needsCheck: boolean,
      sentence: string,
      level: Partial<Pick<ProbeFinding, 'from' | 'to' | 'since'>> = {},
    ): void => {
      findings.push({
        probe: feed.probe,
        spot: feed.spot.name,
        kind,
        needsCheck,
        from: level.from ?? null,
        to: level.to ?? null,
        since: level.since ?? null,
        sentence,
      })
    }
    const who = `Probe ${feed.probe} (${feed.spot.name})`
    if ((shown.flags & FLAG.range) !== 0) {
      tell(
        'out of range',
        true,
        `${who} shows ${ofPh(shown.ph)}, which no soil has. Look at its plug, cable and electrode.`,
        { to: shown.ph },
      )
    } else if ((shown.flags & FLAG.flat) !== 0) {
      tell(
        'flat line',
        true,
        `${who} has shown exactly the same value for hours. A sound electrode is never that quiet: look at its cable and whether the electrode is wet.`,
        { to: shown.ph },
      )
    }
    const away = apart.find(({ levels }) => levels.probe === probe)
    if (away !== undefined) {
      tell(
        'apart from the bed',
        true,
        `${who} went from pH ${ph1(away.from)} to ${ph1(away.to)} while the rest of the bed stayed. Most likely it is the electrode or its contact with the soil, not the bed. Check it in buffer solutions.`,
        { from: away.from, to: away.to, since: away.since },
      )
    }
    if (isUncalibrated(probe)) {
      tell(
        'uncalibrated',
        false,
        `${who} has no calibration yet. Its pH is read as if the electrode were ideal and may be half a unit off; two buffer solutions settle it.`,
      )
    }
    if ((shown.flags & FLAG.dry) !== 0) {
      tell(
        'dry soil',
        false,
        `The soil is too dry for probe ${feed.probe} (${feed.spot.name}) to read pH. Its values are kept but do not count until the soil is moist again.`,
      )
    }
    return findings
  })
}

/** Its latest pH was read without a calibration in force. */
export function isUncalibrated({ recent, hourly }: ProbeNow): boolean {
  for (const history of [recent, hourly]) {
    const row = history.ph.findLastIndex((ph) => Number.isFinite(ph))
    if (row >= 0) return history.uncalibrated[row] === 1
  }
  return false
}

function ofPh(ph: number): string {
  return Number.isFinite(ph) ? `pH ${ph1(ph)}` : 'a pH'
}
