import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest'
import { percent, withDoubt, phWriter } from '../../dashboard/src/doubt.ts'
import { age, amount, dateOnly, localeOf, num, whole } from '../../dashboard/src/format.ts'
import { amountField, fieldNumber, parseNumber } from '../../dashboard/src/number-field.ts'
import { MATERIALS } from '../../dashboard/src/materials.ts'
import { EMPTY, hubReducer } from '../../dashboard/src/hub-state.ts'
import { midSentence, said, saidOptions, say, speak, toSay } from '../../dashboard/src/say.ts'
import { saying } from '../../dashboard/src/saying.ts'
import { timeTicks } from '../../dashboard/src/zone.ts'
import { amendmentOf } from '../../hub/agronomy/amendments.ts'
import { anAlarm } from '../support/alarm-fixture.ts'

const DAY = 86_400_000
const where = { zone: 'Europe/Madrid', units: 'metric' } as const
const page = { lang: 'en' }
const kept = new Map<string, string>()

beforeAll(() => {
  vi.stubGlobal('document', { documentElement: page })
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
  })
})
afterEach(() => speak('en'))
afterAll(() => vi.unstubAllGlobals())

describe('texts', () => {
  test('are said in the language that is spoken, their holes filled in its order of words', async () => {
    expect(say`Put on ${'430 g'} of ${'Kalk'}`).toBe('Put on 430 g of Kalk')
    await speak('de')
    expect(page.lang).toBe('de')
    expect(say`Put on ${'430 g'} of ${'Kalk'}`).toBe('Aufbringen: 430 g Kalk')
    expect(say`A text nobody translated, ${1}`).toBe('A text nobody translated, 1')
    expect(said(toSay('Settings'))).toBe('Einstellungen')
    expect(saidOptions([{ value: 1, words: toSay('Beds') }])).toEqual([
      { value: 1, words: 'Beete' },
    ])
    await speak('es')
    expect(said(toSay('Settings'))).toBe('Ajustes')
    expect(page.lang).toBe('es')
  })

  test('hold elements where the language wants them', async () => {
    expect(saying(toSay('{0}, given up early.'), 'x')).toEqual(['', 'x', ', given up early.'])
    await speak('de')
    expect(saying(toSay('{0}, given up early.'), 'x')).toEqual(['', 'x', ', früh aufgegeben.'])
  })

  test('materials are offered by names that the hub knows', async () => {
    for (const language of ['en', 'de', 'es'] as const) {
      await speak(language)
      for (const name of MATERIALS) {
        expect(amendmentOf(said(name))?.slug, `${language}: ${said(name)}`).toBe(
          amendmentOf(name)?.slug,
        )
        expect(amendmentOf(name), name).not.toBeNull()
      }
    }
  })

  test('nouns keep their capital within a German sentence only', async () => {
    expect(midSentence('Treatment')).toBe('treatment')
    await speak('de')
    expect(midSentence('Behandlung')).toBe('Behandlung')
  })

  test('what is read out when an alarm comes is in the language', async () => {
    await speak('de')
    const alarm = { ...anAlarm({ state: 'unacknowledged' }), bed: 'Quittenbeet' }
    const state = hubReducer(EMPTY, {
      type: 'live',
      event: { event: 'alarm', data: { ...alarm, sentence: 'Der pH ist gefallen.' } as never },
      at: 0,
    })
    expect(state.announcement).toBe('Alarm, Quittenbeet: Der pH ist gefallen.')
  })
})

describe('numbers and dates', () => {
  test.each([
    ['de', 'de-DE', '6,45', '1.234.567', '−1,5', '2. Juli 2026', 'vor 3 min'],
    ['es', 'es-ES', '6,45', '1.234.567', '−1,5', '2 jul 2026', 'hace 3 min'],
    ['en', 'en-GB', '6.45', '1,234,567', '−1.5', '2 Jul 2026', '3 min ago'],
  ] as const)('in %s are those of %s', async (language, locale, ph, many, negative, day, ago) => {
    await speak(language)
    expect(localeOf('metric')).toBe(locale)
    expect(num(6.45, 2, 'metric')).toBe(ph)
    expect(whole(1_234_567, 'metric')).toBe(many)
    expect(num(-1.5, 1, 'metric')).toBe(negative)
    expect(dateOnly(Date.UTC(2026, 6, 2, 12), where)).toBe(day)
    expect(age(0, 180_000)).toBe(ago)
  })

  test('US units change how English is written, not German or Spanish', async () => {
    expect(localeOf('us')).toBe('en-US')
    await speak('de')
    expect(localeOf('us')).toBe('de-DE')
    expect(amount('mass', 900, 'us')).toBe('31,7 oz')
  })

  test('intervals and shares', async () => {
    await speak('es')
    expect(withDoubt({ value: 6.5, low: 6.1, high: 7 }, phWriter('metric'))).toBe(
      '6,50 (6,10 a 7,00)',
    )
    expect(percent(0.001, 'metric')).toBe('menos del 1\u00a0%')
  })

  test.each(['en', 'de', 'es'] as const)(
    'what stands in a field is read again as the same number in %s',
    async (language) => {
      await speak(language)
      for (const value of [0, 6.45, -3.25, 1234.5]) {
        expect(parseNumber(fieldNumber(value))).toBe(value)
      }
      expect(parseNumber(amountField('depth', 0.305, 'metric'))).toBe(30.5)
      expect(fieldNumber(6.5)).toBe(language === 'en' ? '6.5' : '6,5')
      expect(fieldNumber(null)).toBe('')
      expect([parseNumber('6,5'), parseNumber('6.5')]).toEqual([6.5, 6.5])
    },
  )
})

describe('weeks', () => {
  const weeks = (locale: string): string[] =>
    timeTicks(Date.UTC(2026, 5, 1), Date.UTC(2026, 5, 1) + 70 * DAY, {
      zone: 'UTC',
      locale,
      most: 10,
    }).map(({ at }) => new Date(at).toUTCString().slice(0, 3))

  test('begin on Sunday in the United States, else on Monday', () => {
    expect(new Set(weeks('en-US'))).toEqual(new Set(['Sun']))
    expect(new Set(weeks('de-DE'))).toEqual(new Set(['Mon']))
    expect(new Set(weeks('en-GB'))).toEqual(new Set(['Mon']))
  })
})
