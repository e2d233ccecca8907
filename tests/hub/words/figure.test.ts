import { expect, test } from 'vitest'
import {
  ago,
  dayText,
  figure,
  fixed,
  lasting,
  listed,
  monthText,
  monthDayText,
  monthName,
  percent,
  signed,
} from '#hub/words/figure.ts'
import { inLanguage } from '#hub/words/say.ts'

const inAll = <T>(work: () => T): T[] =>
  (['en', 'de', 'es'] as const).map((l) => inLanguage(l, work))
const AT = Date.parse('2027-04-08T22:30:00Z')

test('numbers have the decimal comma of the language and a true minus', () => {
  expect(inAll(() => fixed(-0.5, 2))).toEqual(['-0.50', '−0,50', '−0,50'])
  expect(inAll(() => figure(6.25, 1))).toEqual(['6.3', '6,3', '6,3'])
  expect(inAll(() => signed(0.45, 2))).toEqual(['+0.45', '+0,45', '+0,45'])
  expect(inAll(() => percent(0.355, 1))).toEqual(['35.5 %', '35,5 %', '35,5 %'])
})

test('days are those of the zone, written as the language does', () => {
  expect(inAll(() => dayText(AT, 'Europe/Lisbon'))).toEqual([
    '8 April 2027',
    '8. April 2027',
    '8 de abril de 2027',
  ])
  expect(dayText(AT, 'Asia/Tokyo')).toBe('9 April 2027')
  expect(inAll(() => monthText(AT, 'Europe/Lisbon'))).toEqual([
    'April 2027',
    'April 2027',
    'abril de 2027',
  ])
  expect(inAll(() => monthDayText({ month: 9, day: 1 }))).toEqual([
    '1 September',
    '1. September',
    '1 de septiembre',
  ])
  expect(inAll(() => monthName(3))).toEqual(['March', 'März', 'marzo'])
})

test('names are joined, in Spanish with e before an i', () => {
  expect(inAll(() => listed(['hinojo', 'apio', 'iris']))).toEqual([
    'hinojo, apio and iris',
    'hinojo, apio und iris',
    'hinojo, apio e iris',
  ])
  expect(inLanguage('es', () => listed(['a', 'hierba']))).toBe('a y hierba')
  expect(listed([])).toBe('')
  expect(listed(['a'])).toBe('a')
})

test('lengths of time are rough', () => {
  expect([
    lasting(1),
    lasting(40 * 60_000),
    lasting(3 * 3_600_000),
    lasting(5 * 86_400_000),
  ]).toEqual(['1 minute', '40 minutes', '3 hours', '5 days'])
  expect(ago(5 * 86_400_000)).toBe('5 days ago')
})
