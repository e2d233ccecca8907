import { brokenByMessage, counted, met, notMet, notTested, type Judge } from './verdict.ts'
import { arrived, buffers, ofKind, states, type Row, type Watched } from './watched.ts'

/** A boot that says "on" with at most this uptime began while the check watched, s. */
const JUST_STARTED_S = 5
/** Share by which a probe's count of seconds may run fast or slow, and seconds of rounding. */
const CLOCK_SHARE = 0.1
const CLOCK_S = 2
/** Over a shorter time rounding hides how a clock runs, s. */
const CLOCK_LEAST_S = 20

const keyOf = ({ boot, n }: Row): string => `${boot}:${n}`

/** Live readings, without those whose boot and number another one had before: LM-12 is about them. */
function fresh({ rows }: Watched): readonly Row[] {
  const seen = new Set<string>()
  return rows.filter((row) => {
    const before = seen.has(keyOf(row))
    seen.add(keyOf(row))
    return row.live && !before
  })
}

/** LM-11: the counter. */
export const judgeCounter: Judge = (all) => {
  const broken = brokenByMessage(all, 'LM-11')
  if (broken !== null) return broken
  const came = arrived(all)
  const newest = new Map<number, Row>()
  const live = fresh(all)
  for (const row of live) {
    const before = newest.get(row.boot)
    if (before !== undefined && row.n < before.n) {
      // An older measurement that comes late is told by LM-15: there, time falls too.
      if (row.u >= before.u) return notMet(`n fell from ${before.n} to ${row.n}`, row.message)
      continue
    }
    newest.set(row.boot, row)
    if (before === undefined || before.message.link !== row.message.link) continue
    for (let n = before.n + 1; n < row.n; n++) {
      if (!came.has(`${row.boot}:${n}`))
        return notMet(`n went from ${before.n} to ${row.n}, and ${n} never came`, row.message)
    }
  }
  for (const { decoded, place } of states(all.messages, 'on')) {
    const { b, u } = decoded.body
    const own = all.rows.filter(({ boot }) => boot === b)
    const [first] = own
    if (first === undefined || first.message.place < place || (u ?? Infinity) > JUST_STARTED_S)
      continue
    if (came.has(`${b}:0`) || (!buffers(all) && first.n <= first.u + 1)) continue
    return notMet(`boot ${b} began, and its number 0 never came`, first.message)
  }
  return live.length < 2
    ? notTested('fewer than two live readings came')
    : met(`${counted(live.length, 'live reading')}, up by one`)
}

/** LM-12: boot and number. */
export const judgeBoot: Judge = (all) => {
  const broken = brokenByMessage(all, 'LM-12')
  if (broken !== null) return broken
  const first = new Map<string, Row>()
  let again = 0
  for (const row of all.rows) {
    const before = first.get(keyOf(row))
    if (before === undefined) {
      first.set(keyOf(row), row)
      continue
    }
    again++
    const other =
      before.u !== row.u ||
      Array.from(row.values).some(([name, value]) => {
        const old = before.values.get(name)
        return old !== undefined && old !== value
      })
    if (other)
      return notMet(`boot ${row.boot}, number ${row.n} came before with other content`, row.message)
  }
  if (first.size === 0) return notTested('no reading came')
  const boots = new Set(all.rows.map(({ boot }) => boot)).size
  return met(
    `${counted(first.size, 'reading')} of ${counted(boots, 'boot')}, ${again} of them sent again and the same` +
      (boots === 1 ? '; it was not switched off meanwhile' : ''),
  )
}

/** LM-13: uptime. */
export const judgeUptime: Judge = (all) => {
  // Rows in the wrong order have falling times as well: that is told by LM-24.
  const ordered = all.messages.filter(
    ({ problems }) => !problems.some(({ clause }) => clause === 'LM-24'),
  )
  const broken = brokenByMessage({ ...all, messages: ordered }, 'LM-13')
  if (broken !== null) return broken
  const live = fresh(all)
  const newest = new Map<number, Row>()
  for (const row of live) {
    const before = newest.get(row.boot)
    if (before !== undefined && row.n < before.n) continue
    if (before !== undefined && row.u < before.u)
      return notMet(`u fell from ${before.u} to ${row.u} while n rose`, row.message)
    newest.set(row.boot, row)
  }
  return (
    fallenWhenSent(all) ??
    unlikeTheClock(all) ??
    (live.length < 2
      ? notTested('fewer than two live readings came')
      : met(`${counted(live.length, 'live reading')}; the wrap after 49.7 days was not watched`))
  )
}

/** Uptimes that speak of the moment they were sent. */
function moments(all: Watched) {
  return [
    ...ofKind(all.messages, 'state').flatMap((message) => {
      const { b, u } = message.decoded.body
      return u === undefined ? [] : [{ boot: b, u, message }]
    }),
    ...ofKind(all.messages, 'batch').map((message) => {
      const { b, nb, u } = message.decoded.body
      return { boot: nb ?? b, u, message }
    }),
  ].toSorted((one, other) => one.message.place - other.message.place)
}

function fallenWhenSent(all: Watched): ReturnType<Judge> | null {
  const newest = new Map<number, number>()
  for (const { boot, u, message } of moments(all)) {
    const before = newest.get(boot)
    if (before !== undefined && u < before)
      return notMet(`u fell from ${before} to ${u} within boot ${boot}`, message)
    newest.set(boot, u)
  }
  return null
}

/** Seconds that pass too slowly: sleep is not counted, or a counter wrapped. */
function unlikeTheClock(all: Watched): ReturnType<Judge> | null {
  const first = new Map<number, { readonly u: number; readonly at: number }>()
  for (const { boot, u, message } of moments(all)) {
    const from = first.get(boot)
    if (from === undefined) {
      first.set(boot, { u, at: message.at })
      continue
    }
    const passed = (message.at - from.at) / 1000
    const off = Math.abs(u - from.u - passed)
    if (passed >= CLOCK_LEAST_S && off > CLOCK_SHARE * passed + CLOCK_S)
      return notMet(`u rose by ${u - from.u} in ${Math.round(passed)} s`, message)
  }
  return null
}
