import { expect, test } from 'vitest'
import { alarmLetter, testLetter } from '#hub/delivery/words/letter.ts'
import { letterText } from '#hub/delivery/words/letter-text.ts'
import { LANGUAGES } from '#hub/model/language.ts'
import type { MessageItem } from '#hub/model/route.ts'
import { inLanguage } from '#hub/words/say.ts'
import { anAlarm } from '../../../support/alarm-fixture.ts'

const RAISED = Date.parse('2026-05-04T08:00:00Z')
const CONTEXT = { garden: 'Low field', zone: 'Europe/Lisbon', linkBase: 'http://hub.example' }

const item = (change: Partial<MessageItem> = {}): MessageItem => ({
  alarm: anAlarm({ raisedAt: RAISED }),
  bed: 'Long bed',
  reasons: ['raised'],
  since: RAISED,
  ...change,
})
const subject = (...items: readonly MessageItem[]): string =>
  alarmLetter({ items, held: null }, CONTEXT).subject

test('the subject says where and what, or how much', () => {
  const back = anAlarm({ state: 'returned', returnedAt: RAISED + 1 })
  expect(subject(item())).toBe('Long bed: Harmful shift')
  expect(subject(item({ reasons: ['raised', 'again'] }))).toBe(
    'Still not acknowledged: Long bed: Harmful shift',
  )
  expect(subject(item({ reasons: ['escalated'] }))).toBe(
    'Nobody has acknowledged: Long bed: Harmful shift',
  )
  expect(subject(item({ alarm: back, reasons: ['returned'] }))).toBe(
    'Back to normal: Long bed: Harmful shift',
  )
  expect(subject(item(), item())).toBe('Long bed: 2 alarms')
  expect(subject(item(), item({ bed: 'Herbs' }))).toBe('2 alarms in 2 places')
})

test('what is about the hub or a probe in no bed stands under its own heading, with what it is about', () => {
  const alarm = anAlarm({ bedId: null, kind: 'probe-silent', subject: 'fern2' })
  const { places, link } = alarmLetter({ items: [item({ alarm, bed: null })], held: null }, CONTEXT)
  expect(places).toMatchObject([
    { name: 'Hub and probes', entries: [{ title: 'Probe silent (fern2): not acknowledged' }] },
  ])
  expect(link).toBe('http://hub.example/alarms')
})

test('as text: why, then bed by bed, with times of the garden', () => {
  const letter = alarmLetter({ items: [item(), item({ bed: 'Herbs' })], held: 'quiet' }, CONTEXT)
  expect(letterText(letter, null)).toBe(`What happened in the quiet hours.

Long bed
========

Harmful shift: not acknowledged
Long bed: the pH rose by 1.4 ± 0.2.
Measure by hand first.
Raised 4 May 2026, 09:00.

Herbs
=====

Harmful shift: not acknowledged
Long bed: the pH rose by 1.4 ± 0.2.
Measure by hand first.
Raised 4 May 2026, 09:00.

http://hub.example/bed/3

-- 
Sent by the hub of Low field. Which messages come, and when, is set under Settings, Messages.
`)
})

test('names are one line, whatever stands in them', () => {
  const letter = alarmLetter({ items: [item({ bed: 'A\u0000\r\nB\u202Ec' })], held: null }, CONTEXT)
  expect(letter.subject).toBe('A B c: Harmful shift')
  expect(testLetter('Kitchen\r\nX', CONTEXT).lead).not.toMatch(/[\r\n]/)
})

test.each(LANGUAGES)('every text is there in %s', (language) => {
  const words = inLanguage(language, () => {
    const items = [item(), item({ bed: null, reasons: ['raised', 'again'] })]
    return [
      ...(['digest', 'quiet', 'pause', 'flood'] as const).map((held) =>
        letterText(alarmLetter({ items, held }, CONTEXT), null),
      ),
      letterText(testLetter('Kitchen', CONTEXT), null),
    ].join('\n')
  })
  const english = /not acknowledged|Raised|happened|Sent by|This is a test/.test(words)
  expect(english).toBe(language === 'en')
})
