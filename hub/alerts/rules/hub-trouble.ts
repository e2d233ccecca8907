import { DAY, MINUTE } from '../../model/clock.ts'
import { fixed } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'
import type { HubLook, HubPart } from '../hub-look.ts'
import { NO_CHANGE } from './no-change.ts'
import type { Condition, Rule } from './rule.ts'

/** On-delays: a broker or a disk that comes back by itself within this is nobody's business (judgement). */
const ON_DELAY_MS: Readonly<Record<HubPart, number>> = {
  disk: 0,
  store: MINUTE,
  broker: 5 * MINUTE,
  // Spools hold what comes meanwhile.
  intake: 5 * MINUTE,
  // Nothing is missing meanwhile; a database that is restarted or upgraded is back within this.
  influx: 15 * MINUTE,
  // It says itself when it has tried for long enough.
  delivery: 0,
  // Told when a renewal is overdue, days before it ends.
  certificate: 0,
}
/** Off-delay: a link that comes and goes is one trouble. */
const OFF_DELAY_MS = 10 * MINUTE
/** Free space: raised below this, goes on up to half as much again; or a share of the disk when that is less. Judgement. */
const LEAST_FREE_BYTES = 1e9
const LEAST_FREE_SHARE = 0.05
/** Full within so many days: raised, and goes on. */
const FULL_WITHIN_DAYS = 30
const FULL_GOES_ON_DAYS = 45
const DEADBAND = 1.5
/** So many probes must be silent together before it is taken for the hub's or the network's trouble. */
const SILENT_TOGETHER = 2

/** Disk, store, broker, ingest processes or delivery do not work as it should. */
export const hubTrouble: Rule<HubLook> = {
  kind: 'hub-trouble',
  priority: 'high',
  offDelayMs: OFF_DELAY_MS,
  arises: (look) =>
    conditions(look, { disk: 1, fullDays: FULL_WITHIN_DAYS, delay: (part) => ON_DELAY_MS[part] }),
  review(alarm, look) {
    if (alarm.subject === 'disk' && look.disk === null) return { status: 'unknown' }
    const going = conditions(look, {
      disk: DEADBAND,
      fullDays: FULL_GOES_ON_DAYS,
      delay: () => 0,
    }).find(({ subject }) => subject === alarm.subject)
    return going === undefined ? { status: 'clear' } : { status: 'holds', condition: going }
  },
  returned: toSay('It works again.'),
}

interface Limits {
  /** Times the least free space. */
  readonly disk: number
  readonly fullDays: number
  delay(part: HubPart): number
}

function conditions(look: HubLook, limits: Limits): readonly Condition[] {
  const found = new Map<string, Condition>()
  for (const { subject, since, sentence } of look.troubles) {
    if (look.at - since < limits.delay(subject) || found.has(subject)) continue
    found.set(subject, {
      subject,
      evidence: { ...NO_CHANGE, since },
      sentence,
      advice: said(ADVICE[subject]),
    })
  }
  const disk = diskCondition(look, limits)
  if (disk !== null) found.set('disk', disk)
  const silence = silenceCondition(look)
  if (silence !== null && !found.has('broker')) found.set('broker', silence)
  return Array.from(found.values())
}

function diskCondition({ disk, at }: HubLook, limits: Limits): Condition | null {
  if (disk === null) return null
  const least = Math.min(LEAST_FREE_BYTES, LEAST_FREE_SHARE * disk.totalBytes)
  const short = disk.freeBytes < limits.disk * least
  const days = disk.fullAt === null ? Infinity : (disk.fullAt - at) / DAY
  if (!short && days > limits.fullDays) return null
  const free = `${fixed(disk.freeBytes / 1e9, 1)} GB`
  const left = Math.max(1, Math.round(days))
  return {
    subject: 'disk',
    evidence: {
      ...NO_CHANGE,
      figures: [
        { what: 'free', value: disk.freeBytes, halfWidth: null, unit: 'bytes' },
        ...(disk.fullAt === null
          ? []
          : [{ what: 'full-at', value: disk.fullAt, halfWidth: null, unit: 'at' } as const]),
      ],
    },
    sentence:
      days === Infinity
        ? say`The disk of the hub is nearly full: ${free} are left.`
        : left === 1
          ? say`The disk of the hub is filling up: ${free} are left, enough for about a day at this pace.`
          : say`The disk of the hub is filling up: ${free} are left, enough for about ${left} days at this pace.`,
    advice: said(ADVICE.disk),
    priority: short ? 'high' : 'medium',
  }
}

/** Every probe silent at once is no matter of the probes. */
function silenceCondition({ probes }: HubLook): Condition | null {
  if (probes.placed < SILENT_TOGETHER || probes.silent < probes.placed) return null
  return {
    subject: 'broker',
    evidence: { ...NO_CHANGE, since: probes.heardAt },
    sentence: say`None of the ${probes.placed} probes is heard any more: most likely the network, the broker or the power, not the probes.`,
    advice: said(ADVICE.broker),
  }
}

const ADVICE: Readonly<Record<HubPart, string>> = {
  disk: toSay(
    'Make room on the disk: move backups and other files elsewhere. When it is full, nothing new can be stored; probes keep what they measure for a while. Save a backup before deleting anything.',
  ),
  store: toSay(
    'Readings wait in memory until they can be written, and probes keep theirs. See whether the disk is full, unplugged or worn out, and whether the hub may write to its folder. Do not switch the hub off while readings wait, if it can be helped.',
  ),
  broker: toSay(
    'See whether the broker runs and the network is up: access point, cable, power. Probes keep what they measure and send it when they are back.',
  ),
  intake: toSay(
    'See whether InfluxDB runs and the network is up. Ingest processes go on taking readings and keep them until they can be read.',
  ),
  influx: toSay(
    'See whether InfluxDB runs, the network is up, and its disk has room; a refused password or token says so above. Readings are kept in the folder of the hub meanwhile and go there by themselves when it is back. Leave that folder where it is until then.',
  ),
  delivery: toSay(
    'See on the page of messages what the other side answers; address, password and network are the usual reasons. Messages wait and are sent when it works again. Until then look at this page now and then.',
  ),
  certificate: toSay(
    'Renew it, or see why the program that should renew it did not. The hub takes the new files over within a minute, without a restart. With the same key, probes that know the key by heart go on.',
  ),
}
