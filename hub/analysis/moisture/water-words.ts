import { ENOUGH_SOAKINGS, type WaterLimits } from './water-limits.ts'
import type { WaterCourse } from './step-water-standing.ts'
import type { Interval, WaterStanding } from './water-standing.ts'
import { waterStress } from './water-stress.ts'
import { depthText, layerText, volumeText } from '../../words/amount.ts'
import { counted, lasting } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** A forecast of drying further ahead than this is the weather's business. */
const FAR_DAYS = 14

/** The bed's water in a sentence or two: what it is, what to do. */
export function waterSentence(course: WaterCourse, now: WaterStanding): string {
  const { missingMm, refillL } = now
  if (missingMm === null || refillL === null || course.state === 'unknown') {
    return say`How much water the soil holds is not known: no probe of this bed has shown its moisture in the last day.`
  }
  if (course.soakedSince !== null && course.state !== 'waterlogged') {
    return say`Soaked: there is more water in the soil than it holds once it has drained, which should take no more than two days. Do not water.`
  }
  const refill = say`About ${range(refillL, volumeText)} on the whole bed fill it up again; more only drains away.`
  switch (course.state) {
    case 'dry':
      return say`Too dry: ${range(missingMm, layerText)} of water are missing, and from ${layerText(now.readilyMm)} on the plants feel it. ${refill}`
    case 'waterlogged':
      return say`Waterlogged: the soil has held more water than it should for ${lasting(now.at - (course.soakedSince ?? course.since))} and has not drained. Do not water; see whether the water can run off below.`
    case 'moist':
      return say`Moist: ${range(missingMm, layerText)} of water are missing, fewer than the ${layerText(now.readilyMm)} that plants can do without.${untilDry(now.daysUntilDry)}`
    case 'ample':
      return say`Well watered.${untilDry(now.daysUntilDry)}`
  }
}

/**
 * What the sentence rests on.
 *
 * @param names names of the spots by id, where they are not in the standing
 */
export function waterGrounds(
  now: WaterStanding,
  names: ReadonlyMap<number, string> = new Map(),
): string[] {
  const { roots, missing, rateFrom } = now
  const spots = now.spots.map((one) => ({ ...one, spot: names.get(one.spotId) ?? one.spot }))
  const percent = Math.round(100 * roots.depletion)
  const of =
    roots.sensitive === null
      ? say`no crop of this bed has a figure of its own; ${percent} % is usual for many crops`
      : say`${roots.sensitive} feels it first, at ${percent} %`
  const out = [
    say`Roots to ${depthText(roots.depthM)} can draw ${layerText(now.totalMm)} from full to wilting; ${of} (FAO-56, Table 22).`,
  ]
  for (const { spot, limits } of spots) {
    if (limits !== null) out.push(say`${spot}: field capacity ${capacityFrom(limits)}.`)
  }
  const without = spots.filter(({ limits }) => limits === null)
  if (without.length > 0) {
    out.push(say`Without a moisture reading: ${without.map(({ spot }) => spot).join(', ')}.`)
  }
  if (rateFrom === 'before') out.push(say`The rate of drying is that of earlier dry spells.`)
  const gets = missing === null ? NaN : waterStress(missing.value, roots.depletion)
  if (gets < 1) {
    out.push(say`The plants get about ${Math.round(100 * gets)} % of the water they could use.`)
  }
  return out
}

/** How a field capacity is known, in words. */
export function capacityFrom({ basis, wetUps, spread, capacity }: WaterLimits): string {
  if (basis === 'texture') return say`from the table of the texture: the bed has not shown it yet`
  if (basis === 'seen') {
    return say`from the highest moisture seen: ${counted(wetUps, 'soaking')} of ${ENOUGH_SOAKINGS} needed to learn it`
  }
  const unsure = spread > 0.1 * capacity ? ` ${say`that differ a good deal`}` : ''
  return say`learned from ${counted(wetUps, 'soaking')}${unsure}`
}

function untilDry(days: Interval | null): string {
  if (days === null || !Number.isFinite(days.value) || days.value <= 0) return ''
  if (days.value > FAR_DAYS)
    return ` ${say`Dry in more than ${FAR_DAYS} days at the present rate.`}`
  const low = Math.max(0, Math.floor(days.low))
  const within = Number.isFinite(days.high)
    ? say`(${low} to ${Math.ceil(days.high)})`
    : say`(${low} at least)`
  return ` ${say`At this rate dry in about ${counted(Math.max(1, Math.round(days.value)), 'day')} ${within}, unless it rains.`}`
}

function range({ value, low, high }: Interval, text: (value: number) => string): string {
  const [from, to] = [text(low), text(high)]
  const bare = (amount: string): string => amount.slice(0, amount.indexOf(' '))
  return say`${text(value)} (${bare(from)} to ${bare(to)})`
}
