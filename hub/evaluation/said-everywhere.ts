import type { Alarm, AlarmStep, AlarmTexts } from '../model/alarm.ts'
import { MANNERS, type MannerName, mannerName } from '../model/manner.ts'
import { alarmSaid } from '../words/alarm-said.ts'
import { inManner, manner } from '../words/say.ts'

/**
 * Steps whose alarms carry their texts in every manner, so that a garden that changes its language or its units reads
 * those that are over too. `make` is asked in the manner spoken here, and in the others when there is a step at all; it
 * gets the open alarms as they are said there.
 */
export async function saidEverywhere(
  open: readonly Alarm[],
  make: (open: readonly Alarm[]) => readonly AlarmStep[] | Promise<readonly AlarmStep[]>,
): Promise<readonly AlarmStep[]> {
  const here = mannerName(manner())
  const steps = await make(open.map(alarmSaid))
  if (steps.length === 0) return steps
  const made = new Map<MannerName, readonly AlarmStep[]>()
  for (const other of MANNERS) {
    const name = mannerName(other)
    made.set(
      name,
      name === here ? steps : await inManner(other, async () => make(open.map(alarmSaid))),
    )
  }
  return steps.map((step) => ({ ...step, alarm: { ...step.alarm, texts: textsOf(step, made) } }))
}

function textsOf(step: AlarmStep, made: ReadonlyMap<MannerName, readonly AlarmStep[]>): AlarmTexts {
  const texts: { -readonly [Name in keyof AlarmTexts]: AlarmTexts[Name] } = {}
  for (const chosen of MANNERS) {
    const name = mannerName(chosen)
    // What the world changed between two askings is told as it was first.
    const alarm =
      made.get(name)?.find((other) => isSame(other, step))?.alarm ??
      inManner(chosen, () => alarmSaid(step.alarm))
    const { sentence, advice } = alarm
    const metric = texts[mannerName({ ...chosen, units: 'metric' })]
    // Most alarms tell no amount.
    if (metric?.sentence === sentence && metric.advice === advice) continue
    texts[name] = { sentence, advice }
  }
  return texts
}

function isSame(a: AlarmStep, b: AlarmStep): boolean {
  return (
    a.what === b.what &&
    a.alarm.id === b.alarm.id &&
    a.alarm.bedId === b.alarm.bedId &&
    a.alarm.kind === b.alarm.kind &&
    a.alarm.subject === b.alarm.subject
  )
}
