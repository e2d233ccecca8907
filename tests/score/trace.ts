import { parseArgs } from 'node:util'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { stepWatch } from '#hub/analysis/watch/step-watch.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import { BACK_HOURS } from '#hub/analysis/watch/watch-state.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { randomBed } from '#hub/simulator/random-bed.ts'
import { bedInput } from './bed-input.ts'

/*
 * What the watch saw in one simulated bed around one day, hour by hour:
 *   node tests/score/trace.ts --seed 100030002 --spots 3 --day 20 [--days 3] [--quiet]
 * Per spot: pH, deviation from the usual, sums above/below, share of available water, H when set aside, M when masked.
 */
const { values } = parseArgs({
  options: {
    seed: { type: 'string' },
    spots: { type: 'string', default: '3' },
    day: { type: 'string', default: '12' },
    days: { type: 'string', default: '3' },
    quiet: { type: 'boolean', default: false },
  },
})
const bed = randomBed(Number(values.seed), {
  spots: Number(values.spots),
  withEvents: !values.quiet,
})
const from = bed.startMs + Number(values.day) * DAY
const to = from + Number(values.days) * DAY
const day = (at: number): string => ((at - bed.startMs) / DAY).toFixed(2)

console.log(`${bed.texture}, capacity ${bed.ground.fieldCapacity.toFixed(3)}`)
for (const { kind, onset, sizePh, spot } of bed.events) {
  console.log(`  happened day ${day(onset)}: ${kind} ${sizePh.toFixed(2)} ${spot ?? ''}`)
}
for (const { at, spot, loggedAt, stepPh } of bed.visits) {
  if (Math.abs(at - from) < 10 * DAY) {
    console.log(`  visit day ${day(at)} spot ${spot}, logged ${loggedAt !== null}, ${stepPh}`)
  }
}
for (const [spot, { drySpells, stuckSpells, silentSpells }] of bed.spots.entries()) {
  for (const [name, spells] of Object.entries({ drySpells, stuckSpells, silentSpells })) {
    for (const spell of spells) {
      if (spell.from < to && spell.to > from - 5 * DAY) {
        console.log(`  ${name} of spot ${spot}: day ${day(spell.from)} to ${day(spell.to)}`)
      }
    }
  }
}
const { feeds, context } = bedInput(bed)
const state = startWatch(feeds.bed, feeds.from)
const known = new Map<string, string>()
const shown = (value: number | undefined): string =>
  value === undefined || Number.isNaN(value) ? '    -' : value.toFixed(2).padStart(5)
for (const hour of watchHours(feeds)) {
  stepWatch(state, hour, context)
  for (const event of eventsOf(state)) {
    const text = `${event.form} ${event.cause} ${event.size.toFixed(2)} ${event.state}`
    if (known.get(event.id) !== text && hour.hour >= from - 10 * DAY && hour.hour <= to) {
      console.log(`  day ${day(hour.hour + HOUR)} told ${event.id}: ${text}`)
    }
    known.set(event.id, text)
  }
  if (hour.hour < from || hour.hour >= to) continue
  const slot = (hour.hour / HOUR) % BACK_HOURS
  const cells = state.spots.map((spot) => {
    const at = (column: Float64Array): number =>
      spot.recent.hour[slot] === hour.hour ? column[slot]! : NaN
    const row = hour.rows.find(({ spotId }) => spotId === spot.spotId)
    const mark = `${spot.held === null ? ' ' : 'H'}${spot.settling === null ? ' ' : 'M'}`
    const { above, below } = spot.sums
    return `${shown(row?.ph)}${shown(at(spot.recent.residual))} ${shown(above)}/${shown(below)}${shown(at(spot.recent.available))}${mark}`
  })
  console.log(`${day(hour.hour)} | ${cells.join(' | ')}`)
}
