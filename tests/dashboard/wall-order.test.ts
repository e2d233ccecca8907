import { expect, test } from 'vitest'
import type { BedView } from '../../hub/api/schemas/bed.ts'
import { groupOf, wallGroups } from '../../dashboard/src/wall-order.ts'
import { alarmView, bedView } from './bed-view.ts'

const at = (value: number): BedView['ph'] => ({
  status: 'ok',
  value,
  halfWidth: 0.2,
  at: 0,
  used: [],
  leftOut: [],
})
const band: BedView['band'] = { status: 'own', band: { low: 6, high: 7 }, sentence: '' }
const tomato = [{ slug: 'tomato', name: 'Tomato' }]
const BEDS = [
  bedView({ id: 1, name: 'Zenith', band, ph: at(6.5), standing: 'in band', crops: tomato }),
  bedView({ id: 2, name: 'Álamo', band, ph: at(7.4), standing: 'above' }),
  bedView({ id: 3, name: 'Moor', band, ph: at(5.1), standing: 'below' }),
  bedView({ id: 4, name: 'Fern', standing: 'in band', alarms: [alarmView()] }),
  bedView({ id: 5, name: 'Brook', standing: 'unsure' }),
]
const order = (of: 'entered' | 'standing' | 'name', text = '') =>
  wallGroups(BEDS, { order: of, text, locale: 'en-GB' }).map(({ group, beds }) => [
    group,
    beds.map(({ id }) => id),
  ])

test('an alarm nobody has seen goes before where a bed stands; an acknowledged one does not', () => {
  expect(groupOf(bedView({ standing: 'in band', alarms: [alarmView()] }))).toBe('waits')
  const seen = alarmView({ state: 'acknowledged' })
  expect(groupOf(bedView({ standing: 'in band', alarms: [seen] }))).toBe('in')
  expect(groupOf(bedView({ standing: 'above', alarms: [seen] }))).toBe('out')
})

test('by where they stand: groups without beds are left out, the farthest from its band is first', () => {
  expect(order('standing')).toEqual([
    ['waits', [4]],
    ['out', [3, 2]],
    ['unsure', [5]],
    ['in', [1]],
  ])
})

test('as entered, and by name as the language sorts it', () => {
  expect(order('entered')).toEqual([[null, [1, 2, 3, 4, 5]]])
  expect(order('name')).toEqual([[null, [2, 5, 4, 3, 1]]])
})

test('a bed is found by parts of its name and crops, whatever case and accents', () => {
  expect(order('entered', 'alam')).toEqual([[null, [2]]])
  expect(order('standing', 'TOM zen')).toEqual([['in', [1]]])
  expect(order('name', 'nowhere')).toEqual([])
})
