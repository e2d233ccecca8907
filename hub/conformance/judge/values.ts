import { brokenByMessage, counted, met, notMet, notTested, type Judge } from './verdict.ts'
import { described, electrodes, ofKind } from './watched.ts'

/** What stands in for a failed sensor, by what is sensed (firmware-spec, electrical practice). */
const STAND_INS: Readonly<Record<string, readonly number[]>> = {
  'temp.soil': [85, -127],
  'temp.air': [85, -127],
  'moist.raw': [65535],
}
/** Coarsest step of the electrode's voltage, mV (LM-20). */
const STEP_MV = 0.6
/** So many different values show the step they lie on. */
const STEP_VALUES = 8

/** LM-16: failed sensors. */
export const judgeFailed: Judge = (all) => {
  const about = described(all)
  let failed = 0
  for (const { values, message } of all.rows) {
    for (const [name, value] of values) {
      if (value === null) failed++
      else if ((STAND_INS[about.get(name)?.q ?? ''] ?? []).includes(value))
        return notMet(`${name} is ${value}, which stands for a failed sensor`, message)
    }
  }
  failed += ofKind(all.messages, 'plain').filter(({ decoded }) => decoded.value === null).length
  return failed > 0
    ? met(`${counted(failed, 'failed value')} sent as null`)
    : notTested('every sensor worked: pull one off for two readings while the check runs')
}

/** LM-17: raw beside derived. */
export const judgeRaw: Judge = (all) => {
  const broken = brokenByMessage(all, 'LM-17')
  if (broken !== null) return broken
  const about = described(all)
  if (about.size === 0) return notTested('no channel is described')
  const derived = Array.from(about).filter(([, { q, from }]) => q === 'ph' || from !== undefined)
  for (const [name, { from }] of derived) {
    const last = ofKind(all.messages, 'channel').findLast(({ decoded }) => decoded.channel === name)
    if (from === undefined) return notMet(`${name} names no raw channel in "from"`, last)
    if (!about.has(from)) return notMet(`${name} comes from ${from}, which is not described`, last)
    const alone = all.rows.find(({ values }) => values.has(name) && !values.has(from))
    if (alone !== undefined) return notMet(`${name} came without ${from}`, alone.message)
  }
  const names = derived.map(([name]) => name).join(', ')
  return met(derived.length === 0 ? 'no channel is derived' : `for ${names}`)
}

/** LM-18: spread. */
export const judgeSpread: Judge = (all) => {
  const names = electrodes(all)
  const readings = ofKind(all.messages, 'reading').filter(({ decoded }) =>
    names.some((name) => typeof decoded.body.v[name] === 'number'),
  )
  if (readings.length === 0) return notTested('it sends no electrode voltage')
  const bare = readings.find(({ decoded }) =>
    names.every(
      (name) => decoded.body.v[name] === undefined || decoded.body.s?.[name] === undefined,
    ),
  )
  return bare === undefined
    ? met(`${counted(readings.length, 'reading')}; from how many samples cannot be seen`)
    : notMet('the electrode voltage came without its spread in "s"', bare)
}

/** LM-19: not settled. */
export const judgeSettled: Judge = (all) => {
  const readings = ofKind(all.messages, 'reading')
  const flagged = readings.filter(({ decoded }) => ((decoded.body.f ?? 0) & 1) === 1).length
  if (flagged > 0 && flagged < readings.length)
    return met(`${counted(flagged, 'reading')} of ${readings.length} with flag 1`)
  return notTested(
    flagged > 0
      ? 'every reading has flag 1: let the electrode stand while the check runs'
      : 'no reading has flag 1: switch the probe off and on, or move the electrode, while the check runs',
  )
}

/** LM-20: resolution. */
export const judgeResolution: Judge = (all) => {
  const about = described(all)
  const [name] = electrodes(all)
  if (name === undefined) return notTested('it sends no electrode voltage')
  const lsb = about.get(name)?.lsb
  if (lsb !== undefined) {
    const last = ofKind(all.messages, 'channel').findLast(({ decoded }) => decoded.channel === name)
    return lsb <= STEP_MV ? met(`its step is ${lsb} mV`) : notMet(`its step is ${lsb} mV`, last)
  }
  const values = new Set(all.rows.map(({ values: own }) => own.get(name) ?? NaN))
  const sorted = [...values].filter(Number.isFinite).toSorted((a, b) => a - b)
  if (sorted.length === 0) return notTested('it sends no electrode voltage')
  const steps = sorted.slice(1).map((value, i) => value - (sorted[i] ?? value))
  const least = Math.min(...steps)
  if (least <= STEP_MV + 1e-9) return met(`steps down to ${Number(least.toPrecision(2))} mV seen`)
  return sorted.length >= STEP_VALUES
    ? notMet(
        `${sorted.length} values, none nearer to another than ${Number(least.toPrecision(3))} mV`,
      )
    : notTested('too few different values came, and the channel names no "lsb"')
}
