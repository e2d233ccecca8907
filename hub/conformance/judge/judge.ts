import type { Happening } from '../record.ts'
import { REQUIREMENTS, type Requirement } from '../requirements.ts'
import type { Terms } from '../terms.ts'
import { judgeEncryption, judgeId, judgePassword, judgeVersion, judgeWill } from './connect.ts'
import { judgeBoot, judgeCounter, judgeUptime } from './counting.ts'
import { judgeCommands, judgeIncoming, judgeSettings, judgeSoak, judgeTopics } from './downlink.ts'
import { judgeBirth, judgeChannels, judgeHelloOrder } from './hello.ts'
import { judgeDeadLink, judgeReconnect } from './link.ts'
import { judgeBatches, judgeFreed, judgeHeld, judgeResending } from './memory.ts'
import { judgePayloads, judgeQos, judgeRetained, judgeSize } from './message.ts'
import { judgeSleep, judgeWait } from './sleep.ts'
import { judgeEpoch, judgeLateness } from './timing.ts'
import { judgeFailed, judgeRaw, judgeResolution, judgeSettled, judgeSpread } from './values.ts'
import { notTested, type Judge, type Verdict } from './verdict.ts'
import { openLinks, watched, type Watched } from './watched.ts'

export interface Finding extends Verdict {
  readonly requirement: Requirement
}

const JUDGES: Readonly<Record<string, Judge>> = {
  'LM-01': judgeVersion,
  'LM-02': judgeId,
  'LM-03': judgeSize,
  'LM-04': judgeIncoming,
  'LM-05': judgeWill,
  'LM-06': judgeHelloOrder,
  'LM-07': judgeBirth,
  'LM-08': judgeChannels,
  'LM-09': judgeRetained,
  'LM-10': judgePayloads,
  'LM-11': judgeCounter,
  'LM-12': judgeBoot,
  'LM-13': judgeUptime,
  'LM-14': judgeEpoch,
  'LM-15': judgeLateness,
  'LM-16': judgeFailed,
  'LM-17': judgeRaw,
  'LM-18': judgeSpread,
  'LM-19': judgeSettled,
  'LM-20': judgeResolution,
  'LM-21': judgeDeadLink,
  'LM-22': judgeReconnect,
  'LM-23': judgeHeld,
  'LM-24': judgeBatches,
  'LM-25': judgeFreed,
  'LM-26': judgeResending,
  'LM-27': judgeQos,
  'LM-28': judgeSettings,
  'LM-29': judgeCommands,
  'LM-30': judgeTopics,
  'LM-31': judgeSleep,
  'LM-32': judgeWait,
  'LM-33': judgePassword,
  'LM-34': judgeEncryption,
  'LM-35': judgeSoak,
}

/** One finding for every requirement, in their order. Pure: what happened is all it knows. */
export function judge(
  probe: string,
  happenings: readonly Happening[],
  terms: Terms,
): readonly Finding[] {
  const all = watched(probe, happenings)
  const connected = all.links.some(({ connect }) => connect !== null)
  const letIn = openLinks(all).length > 0
  const plain = sendsPlainOnly(all)
  return REQUIREMENTS.map((requirement) => {
    const verdict = !connected
      ? notTested('no probe connected')
      : !letIn && !/^LM-(01|02|05|33)$/.test(requirement.id)
        ? notTested('the broker did not let it in')
        : plain && requirement.core
          ? notTested('a plain probe: it sends plain numbers only')
          : JUDGES[requirement.id]!(all, terms)
    return { requirement, ...verdict }
  })
}

const sendsPlainOnly = ({ messages }: Watched): boolean =>
  messages.length > 0 && messages.every(({ topic }) => /\/up\/v\/[^/]*$/.test(topic))
