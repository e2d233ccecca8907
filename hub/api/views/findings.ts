import { amendmentOf, expectedOf } from '../../agronomy/amendments.ts'
import type { Assessment } from '../../analysis/assessment.ts'
import type { Interval as WaterInterval } from '../../analysis/moisture/water-standing.ts'
import { capacityFrom } from '../../analysis/moisture/water-words.ts'
import type { DoseEffect, Span } from '../../analysis/amendment/dose-effect.ts'
import { electrodeWords } from '../../analysis/drift/electrode-words.ts'
import { trendVerdict } from '../../analysis/drift/trend-verdict.ts'
import { type TrendTreatment, trendWords } from '../../analysis/drift/trend-words.ts'
import {
  type EventNames,
  eventAdvice,
  eventGrounds,
  eventSentence,
} from '../../analysis/event-words.ts'
import { forecastSentence, inBandSentence } from '../../analysis/forecast/forecast-words.ts'
import { spotsSentence } from '../../analysis/aggregate/spots-words.ts'
import type { Study } from '../../analysis/study.ts'
import type { WatchEvent } from '../../analysis/watch/event.ts'
import type { Bed, Spot } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { JournalEntry } from '../../model/journal.ts'
import type {
  EffectAnswer,
  EffectView,
  EventView,
  Findings,
  Interval,
} from '../schemas/findings.ts'
import { toColumn } from './column.ts'
import { fixed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

export interface FindingsParts {
  readonly bed: Bed
  readonly beds: readonly Bed[]
  readonly spots: readonly Spot[]
  readonly journal: readonly JournalEntry[]
  readonly assessment: Assessment | null
  /** Everything the watch remembers, oldest first. */
  readonly events: readonly WatchEvent[]
  readonly at: number
}

const known = (value: number): number | null => (Number.isFinite(value) ? value : null)
const whole = (at: number | null): number | null => (at === null ? null : Math.round(at))

const notYet = (): { status: 'insufficient'; have: string; need: string } => ({
  status: 'insufficient',
  have: say`not gone through yet`,
  need: say`a minute`,
})

/** All that was found out about a bed, as the page reads it. */
export function findingsView(parts: FindingsParts): Findings {
  const { bed, assessment, at } = parts
  const study = assessment?.study ?? null
  const names: EventNames = {
    spots: new Map(parts.spots.map((s) => [s.id, s.name])),
    beds: new Map(parts.beds.map((b) => [b.id, b.name])),
    journal: parts.journal,
  }
  const spotName = (id: number): string => names.spots.get(id) ?? say`spot ${id}`
  return {
    bedId: bed.id,
    at,
    studiedAt: whole(study?.at ?? null),
    learning:
      assessment === null
        ? { ...notYet() }
        : assessment.watch.learning === null
          ? null
          : { ...assessment.watch.learning },
    noise: (assessment?.watch.spots ?? []).map((s) => ({
      probe: s.probe,
      spot: spotName(s.spotId),
      sd: known(s.sd),
      falsePerYear: known(s.falsePerYear),
    })),
    events: eventViews(parts, names),
    spots: spotsView(study, spotName),
    ...slowViews(study, spotName, parts),
    water: waterView(assessment),
  }
}

function eventViews({ events, assessment }: FindingsParts, names: EventNames): EventView[] {
  // What the open hour shows comes first; the rest as the watch has it now.
  const now = new Map((assessment?.watch.events ?? []).map((event) => [event.id, event]))
  const all = new Map(events.map((event) => [event.id, event]))
  for (const [id, event] of now) all.set(id, event)
  return Array.from(all.values())
    .toSorted((a, b) => b.noticedAt - a.noticedAt)
    .map((event) => ({
      id: event.id,
      form: event.form,
      onset: Math.round(event.onset),
      noticedAt: Math.round(event.noticedAt),
      cause: event.cause,
      firstCause: event.firstCause,
      decidedAt: whole(event.decidedAt),
      size: event.size,
      halfWidth: known(1.96 * event.sizeSe) ?? 0,
      present: known(event.present),
      state: event.state,
      endedAt: whole(event.endedAt),
      spots: event.spots.map((s) => ({
        spotId: s.spotId,
        spot: names.spots.get(s.spotId) ?? say`spot ${s.spotId}`,
        probe: s.probe,
        before: known(s.before),
        change: known(s.change),
        moved: s.moved,
      })),
      journalId: event.evidence.journalId,
      withinPlan: event.evidence.withinPlan,
      otherBeds: event.evidence.otherBeds.map((id) => names.beds.get(id) ?? say`bed ${id}`),
      sentence: eventSentence(event, names),
      grounds: eventGrounds(event, names),
      advice: eventAdvice(event),
    }))
}

function spotsView(study: Study | null, spotName: (id: number) => string): Findings['spots'] {
  if (study === null) {
    return {
      effective: null,
      halfWidth: null,
      needed: null,
      outlying: null,
      sentence: say`Not gone through yet.`,
    }
  }
  const { needed } = study.days
  const outlying =
    needed.outlying === null
      ? null
      : { spot: spotName(needed.outlying.spotId), by: needed.outlying.by }
  return {
    effective: needed.spots === 0 ? null : needed.effective,
    halfWidth: known(needed.halfWidth),
    needed: needed.spots === 0 ? null : needed.needed,
    outlying,
    sentence: spotsSentence(needed, outlying?.spot ?? null),
  }
}

function slowViews(
  study: Study | null,
  spotName: (id: number) => string,
  { journal, bed, assessment }: FindingsParts,
): Pick<Findings, 'trend' | 'electrodes' | 'samples' | 'effects' | 'forecast' | 'inBand'> {
  if (study === null) {
    const nothing = { ...notYet(), sentence: say`Not gone through yet.` }
    return {
      trend: { ...nothing, grounds: [] },
      electrodes: [],
      samples: [],
      effects: [],
      forecast: nothing,
      inBand: nothing,
    }
  }
  const { trend, forecast, inBand } = study
  const shift = assessment?.shift ?? null
  const treatments = study.effects.flatMap(({ at, material }): TrendTreatment[] => {
    const direction = amendmentOf(material)?.direction
    return direction === 'raises' || direction === 'lowers' ? [{ at, material, direction }] : []
  })
  return {
    trend:
      trend.status === 'insufficient'
        ? { ...trend, ...trendWords(trend, treatments, study) }
        : {
            status: 'ok',
            perYear: interval(trend.perYear, trend.low, trend.high),
            verdict: trendVerdict(trend),
            from: Math.round(trend.from),
            to: Math.round(trend.to),
            weeks: trend.weeks,
            seasonSwing: known(trend.seasonSwing),
            seasonHighestDay: trend.seasonHighestDay,
            ...trendWords(trend, treatments, study),
          },
    electrodes: study.electrodes.map((e) => ({
      probe: e.probe,
      spot: spotName(e.spotId),
      per30Days:
        e.drift.status === 'ok' ? interval(e.drift.per30Days, e.drift.low, e.drift.high) : null,
      sinceCalibrationDays: e.since === null ? null : Math.floor((study.at - e.since) / DAY),
      ...electrodeWords(e, trend, study.samples),
    })),
    samples: study.sampleOffsets.map(({ method, pairs, offset, sentence }) => ({
      method,
      pairs,
      offset,
      sentence,
    })),
    effects: study.effects.map((effect) => effectView(effect, study, journal)),
    forecast:
      forecast.status === 'insufficient'
        ? { ...forecast, sentence: forecastSentence(forecast, bed, study.at) }
        : {
            status: 'ok',
            time: Array.from(forecast.time, Math.round),
            q05: toColumn(forecast.fan[0]),
            q25: toColumn(forecast.fan[1]),
            q50: toColumn(forecast.fan[2]),
            q75: toColumn(forecast.fan[3]),
            q95: toColumn(forecast.fan[4]),
            band: bandOf(study),
            leaves:
              forecast.leaves === null
                ? null
                : {
                    edge: forecast.leaves.edge,
                    median: whole(forecast.leaves.median),
                    earliest: whole(forecast.leaves.earliest),
                    latest: whole(forecast.leaves.latest),
                  },
            chances: forecast.chances.map((c) => ({ days: c.days, outside: clamp(c.outside) })),
            sentence:
              shift !== null && shift.since > study.at - DAY
                ? shift.change < 0
                  ? say`${bed.name} has just fallen by ${fixed(Math.abs(shift.change), 1)} pH: what was expected before that no longer holds. A new outlook is made once its days are in.`
                  : say`${bed.name} has just risen by ${fixed(Math.abs(shift.change), 1)} pH: what was expected before that no longer holds. A new outlook is made once its days are in.`
                : forecastSentence(forecast, bed, study.at),
          },
    inBand:
      inBand.status === 'insufficient'
        ? { ...inBand, sentence: inBandSentence(inBand) }
        : {
            status: 'ok',
            from: Math.round(inBand.from),
            to: Math.round(inBand.to),
            share: interval(inBand.share, inBand.low, inBand.high),
            inside: inBand.inside,
            below: inBand.below,
            above: inBand.above,
            unknown: inBand.unknown,
            longestOutside: inBand.longestOutside === null ? null : { ...inBand.longestOutside },
            sentence: inBandSentence(inBand),
          },
  }
}

const clamp = (share: number): number => Math.min(1, Math.max(0, share))

function bandOf({ band }: Study): { low: number; high: number } | null {
  return band === null ? null : { ...band }
}

const interval = (value: number, low: number, high: number): Interval => ({
  value: known(value),
  low: known(low),
  high: known(high),
})

function effectView(
  effect: Study['effects'][number],
  study: Study,
  journal: readonly JournalEntry[],
): EffectView {
  const entry = journal.find(({ id }) => id === effect.id)
  const amendment = amendmentOf(effect.material)
  return {
    journalId: effect.id,
    at: Math.round(effect.at),
    material: effect.material,
    amountG: entry?.amountG ?? null,
    expected:
      amendment === null
        ? say`Not in the table of amendments: nothing is expected of it.`
        : expectedOf(amendment),
    answers: effect.answers.map((answer) => answerView(answer, study)),
  }
}

export function answerView(answer: DoseEffect, { control }: Study): EffectAnswer {
  const span = (s: Span | null): Interval | null => (s === null ? null : { ...s })
  const { halfLife } = answer
  return {
    question: answer.question,
    verdict: answer.verdict,
    controls:
      answer.question === 'advantage over untreated' && control?.status === 'ok'
        ? [...control.beds]
        : [],
    onsetDays: span(answer.onsetDays),
    peakDays: span(answer.peakDays),
    peak: span(answer.peak),
    present: span(answer.present),
    halfLife:
      halfLife.kind === 'known' ? { ...halfLife, days: { ...halfLife.days } } : { ...halfLife },
    notLargerThan: answer.notLargerThan,
    halfBackAt: whole(answer.halfBackAt),
    curve:
      answer.curve === null
        ? null
        : {
            time: Array.from(answer.curve.time, Math.round),
            value: toColumn(answer.curve.value),
            low: toColumn(answer.curve.low),
            high: toColumn(answer.curve.high),
          },
    points:
      answer.points === null
        ? null
        : {
            time: Array.from(answer.points.time, Math.round),
            value: toColumn(answer.points.value),
          },
    sentence: answer.sentence,
    grounds: [...answer.grounds],
  }
}

function waterView(assessment: Assessment | null): Findings['water'] {
  if (assessment === null) {
    return {
      state: 'unknown',
      since: null,
      depletionMm: null,
      readilyAvailableMm: null,
      refillL: null,
      daysUntilDry: null,
      lastWettingAt: null,
      sentence: say`Not looked at yet.`,
      grounds: [],
      spots: [],
    }
  }
  const { water } = assessment
  const { standing } = water
  const span = (of: WaterInterval | null): Interval | null =>
    of === null ? null : interval(of.value, of.low, of.high)
  return {
    state: water.state,
    since: whole(water.since),
    depletionMm: span(standing.missingMm),
    readilyAvailableMm: known(standing.readilyMm),
    refillL: span(standing.refillL),
    daysUntilDry: span(standing.daysUntilDry),
    lastWettingAt: whole(standing.lastWettingAt),
    sentence: water.sentence,
    grounds: [...water.grounds],
    spots: standing.spots.map((s) => ({
      spotId: s.spotId,
      spot: s.spot,
      probe: s.probe,
      available: known(s.available),
      fieldCapacity: s.limits === null ? null : known(s.limits.capacity),
      fieldCapacityFrom: s.limits === null ? say`no moisture reading` : capacityFrom(s.limits),
    })),
  }
}
