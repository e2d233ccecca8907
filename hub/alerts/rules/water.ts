import type { BedLook, WaterFinding } from '../../analysis/assessment.ts'
import { HOUR } from '../../model/clock.ts'
import { said, toSay } from '../../words/say.ts'
import { withoutProbes } from './basis-gone.ts'
import { NO_CHANGE } from './no-change.ts'
import type { Condition, Rule } from './rule.ts'

const SURE_SHARE = 0.5
/** Off-delay, after the watch has called the soil otherwise (see `WATER_DEADBAND`). */
const OFF_DELAY_MS = HOUR

const ADVICE = {
  dry: toSay(
    'Water slowly, in the evening or early morning, and look again after a day. Where mains power is near, keep water away from it.',
  ),
  waterlogged: toSay(
    'Do not water. See whether the bed can drain below, and keep off the soil: wet soil packs under feet.',
  ),
} as const

/**
 * Too little or too much water for the crops. When it begins and ends is decided with deadband and delays by the
 * watch itself (see `WATER_DEADBAND`); the alarm follows.
 */
function waterRule(kind: 'dry' | 'waterlogged', returned: string): Rule<BedLook> {
  const holds = ({ water }: BedLook): boolean => water.state === kind
  const condition = ({ bed, water }: BedLook): Condition => ({
    subject: '',
    evidence: {
      ...NO_CHANGE,
      since: water.since,
      spotsMoved: spotsOf(water),
    },
    sentence: `${bed}: ${water.sentence}`,
    advice: said(ADVICE[kind]),
  })
  return {
    kind,
    priority: 'medium',
    offDelayMs: OFF_DELAY_MS,
    arises: (look) => (holds(look) && isSure(look.water) ? [condition(look)] : []),
    review(alarm, look) {
      const gone = withoutProbes(look)
      if (gone !== null) return gone
      // The litres change with every reading; the alarm keeps what it was raised with.
      if (holds(look)) {
        const { evidence, sentence, advice } = alarm
        return { status: 'holds', condition: { subject: '', evidence, sentence, advice } }
      }
      return { status: look.water.state === 'unknown' ? 'unknown' : 'clear' }
    },
    returned,
  }
}

/**
 * While the bed has not shown how much it holds, or its spots differ widely, the page says dry and nobody is alarmed:
 * also the lower end of what is missing must be a good part of what the crops can do without.
 */
function isSure({ state, standing }: WaterFinding): boolean {
  if (state !== 'dry') return true
  return standing.missingMm !== null && standing.missingMm.low >= SURE_SHARE * standing.readilyMm
}

function spotsOf(water: WaterFinding): string[] {
  return Array.from(
    new Set(water.standing.spots.flatMap((s) => (Number.isNaN(s.available) ? [] : s.spot))),
  )
}

export const dry = waterRule('dry', toSay('The soil holds enough water again.'))
export const waterlogged = waterRule('waterlogged', toSay('The soil has drained.'))
