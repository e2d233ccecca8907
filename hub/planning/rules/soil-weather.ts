import { SULFUR_ON_LEAVES_MOST_AIR_C } from '../../agronomy/planning-limits.ts'
import { dayFrom, dayOf, startOf } from '../calendar.ts'
import { nextInSeason, seasonOf } from '../season.ts'
import { soilNowC, warmAgainAt } from '../soil-warmth.ts'
import { tell, type Told } from '../told.ts'
import { capital } from '../capital.ts'
import type { Rule } from './rule.ts'
import { aboutDepth, temperatureText } from '../../words/amount.ts'
import { dayText } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** At or below this soil counts as frozen, degrees Celsius; a sensor is off by half a degree. Practice. */
const FROZEN_C = 0.5
const FROZEN_UNTIL_C = 3

/** Nothing into frozen or waterlogged soil; what soil life has to turn into acid waits until the soil is warm. */
export const soilWeather: Rule = ({ facts, row, dosing }) => {
  if (row.direction !== 'raises' && row.direction !== 'lowers') return []
  const { bed, assessment } = facts
  const told: Told[] = []
  if (assessment?.water.state === 'waterlogged') {
    const acid = (dosing?.leastSoilC ?? null) !== null
    told.push(
      tell(
        'wait',
        say`${bed.name} is waterlogged: let it drain before ${row.name} goes on.`,
        acid
          ? say`Without air soil life makes poison of sulfur instead of acid.`
          : say`In mud nothing can be worked in evenly, and walking on it ruins the soil.`,
        acid ? ['UME254'] : ['MEM'],
      ),
    )
  }
  const celsius = soilNowC(facts)
  const least = dosing?.leastSoilC ?? null
  if (celsius === null) {
    return least === null
      ? told
      : [
          ...told,
          tell(
            'warn',
            say`How warm the soil of ${bed.name} is, is not known: ${row.name} needs ${temperatureText(least.value)} or more. Put a thermometer ${aboutDepth(0.1)} deep first; the limit for cool soil holds.`,
            say`${capital(row.name)} is turned into acid by soil life, which stands still in the cold.`,
            [least.source],
          ),
        ]
  }
  if (least !== null && celsius < least.value) {
    told.push(
      later(
        facts,
        least.value,
        say`The soil of ${bed.name} has ${temperatureText(celsius, 1)}; ${row.name} needs ${temperatureText(least.value)} or more.`,
        say`${capital(row.name)} is turned into acid by soil life, which stands still in the cold.`,
        [least.source],
      ),
    )
  } else if (celsius <= FROZEN_C) {
    told.push(
      later(
        facts,
        FROZEN_UNTIL_C,
        say`The soil of ${bed.name} is frozen (${temperatureText(celsius, 1)}).`,
        say`In frozen soil nothing can be worked in, and rain washes it away.`,
        ['MEM'],
      ),
    )
  }
  if (least !== null) {
    told.push(
      tell(
        'tell',
        say`Not on leaves, and not on hot days (above ${temperatureText(SULFUR_ON_LEAVES_MOST_AIR_C.value)} in the air); wash off what lies on plants.`,
        say`Sulfur burns leaves in the heat.`,
        [SULFUR_ON_LEAVES_MOST_AIR_C.source],
      ),
    )
  }
  return told
}

function later(
  facts: Parameters<typeof seasonOf>[0],
  leastC: number,
  state: string,
  reason: string,
  sources: readonly string[],
): Told {
  const { zone, at } = facts
  const seen = warmAgainAt(facts, leastC)
  const until =
    seen === null
      ? startOf(nextInSeason(seasonOf(facts), dayOf(at, zone).add({ days: 1 })), zone)
      : startOf(dayFrom(seen, zone), zone)
  const by = seen === null ? say`the growing season` : say`what this soil did a year ago`
  return tell(
    'wait',
    say`${state} Wait until about ${dayText(until, zone)} (by ${by}), and measure the soil then.`,
    reason,
    sources,
    { until, later: true },
  )
}
