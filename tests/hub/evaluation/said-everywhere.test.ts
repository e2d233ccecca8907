import { NO_CHANGE } from '#hub/alerts/rules/no-change.ts'
import { expect, test } from 'vitest'
import { saidEverywhere } from '#hub/evaluation/said-everywhere.ts'
import type { Alarm, AlarmStep } from '#hub/model/alarm.ts'
import { MANNERS } from '#hub/model/manner.ts'
import { alarmSaid } from '#hub/words/alarm-said.ts'
import { volumeText } from '#hub/words/amount.ts'
import { inManner, language, manner, say } from '#hub/words/say.ts'

const RAISED: Alarm = {
  id: 0,
  bedId: 3,
  kind: 'dry',
  subject: '',
  priority: 'medium',
  state: 'unacknowledged',
  raisedAt: 1000,
  acknowledgedAt: null,
  returnedAt: null,
  overSince: null,
  shelvedUntil: null,
  changedAt: 1000,
  evidence: NO_CHANGE,
  sentence: '',
  advice: '',
}
const stepOf = (alarm: Alarm): AlarmStep => ({
  alarm,
  at: 2000,
  what: 'raised',
  by: null,
  note: '',
})
const raise = (): AlarmStep[] => [
  stepOf({ ...RAISED, sentence: `${volumeText(10)}`, advice: say`1 day` }),
]
const DE_US = { language: 'de', units: 'us' } as const

test('an alarm is told in each manner as it would have been told there', async () => {
  const [step] = await inManner(DE_US, () => saidEverywhere([], raise))
  const texts = MANNERS.map((one) => inManner(one, () => alarmSaid(step!.alarm)))
  expect(texts.map(({ sentence, advice }) => `${sentence}, ${advice}`)).toEqual([
    '10 L, 1 day',
    '2.6 gal, 1 day',
    '10 L, 1 Tag',
    '2,6 gal, 1 Tag',
    '10 L, 1 día',
    '2,6 gal, 1 día',
  ])
  // As it was raised, it stands in its own columns too.
  expect(step!.alarm).toMatchObject({ sentence: '2,6 gal', advice: '1 Tag' })
})

test('what is said on top is said on top of the text of that language', async () => {
  const [first] = await inManner(DE_US, () => saidEverywhere([], raise))
  const kept = { ...first!.alarm, id: 7 }
  const [over] = await inManner({ language: 'es', units: 'metric' }, () =>
    saidEverywhere([kept], (open) =>
      open.map((alarm) => stepOf({ ...alarm, sentence: `${alarm.sentence} / ${say`1 day`}` })),
    ),
  )
  const told = (one: (typeof MANNERS)[number]): string =>
    inManner(one, () => alarmSaid(over!.alarm).sentence)
  expect(MANNERS.map(told)).toEqual([
    '10 L / 1 day',
    '2.6 gal / 1 day',
    '10 L / 1 Tag',
    '2,6 gal / 1 Tag',
    '10 L / 1 día',
    '2,6 gal / 1 día',
  ])
})

test('without a step nobody is asked again; amounts that do not differ are kept once', async () => {
  let asked = 0
  await saidEverywhere([], () => {
    asked++
    return []
  })
  expect(asked).toBe(1)
  const [step] = await saidEverywhere([], () => [stepOf({ ...RAISED, sentence: say`1 day` })])
  expect(Object.keys(step!.alarm.texts!)).toEqual(['en metric', 'de metric', 'es metric'])
})

test('what has ended between two askings keeps the text it was first told with', async () => {
  const here = manner()
  const [step] = await saidEverywhere([], () => (manner() === here ? raise() : []))
  expect(inManner(DE_US, () => alarmSaid(step!.alarm).sentence)).toBe('10 L')
  expect(language()).toBe('en')
})

test('an alarm of an older hub stays as it was raised', () => {
  const old = { ...RAISED, sentence: 'as it was' }
  expect(inManner(DE_US, () => alarmSaid(old))).toBe(old)
})
