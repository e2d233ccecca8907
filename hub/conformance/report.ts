import type { Finding } from './judge/judge.ts'
import type { Evidence, Verdict } from './judge/verdict.ts'
import type { Happening } from './record.ts'

/** What a check found; its members are those of the file a machine reads. */
export interface Report {
  readonly format: 'loamline conformance 1'
  readonly probe: string
  /** ISO 8601. */
  readonly startedAt: string
  readonly endedAt: string
  /** True: the probe came and nothing is 'not met'. */
  readonly passed: boolean
  readonly counts: Readonly<Record<Verdict['verdict'], number>>
  readonly requirements: readonly {
    readonly id: string
    readonly word: string
    readonly about: string
    readonly verdict: Verdict['verdict']
    readonly told: string
    readonly packet?: Evidence
  }[]
}

/** Makes the report. Passwords that were seen are nowhere in it. */
export function reportOf(check: {
  readonly probe: string
  readonly startedAt: number
  readonly endedAt: number
  readonly findings: readonly Finding[]
  readonly happenings: readonly Happening[]
}): Report {
  const { probe, findings, happenings } = check
  const hide = hider(happenings)
  const counts = { met: 0, 'not met': 0, 'not tested': 0 }
  for (const { verdict } of findings) counts[verdict]++
  return {
    format: 'loamline conformance 1',
    probe,
    startedAt: new Date(check.startedAt).toISOString(),
    endedAt: new Date(check.endedAt).toISOString(),
    passed: counts['not met'] === 0 && counts.met > 0,
    counts,
    requirements: findings.map(({ requirement: { id, word, about }, verdict, told, packet }) => ({
      id,
      word,
      about,
      verdict,
      told: hide(told),
      ...(packet === undefined
        ? {}
        : {
            packet: {
              topic: hide(packet.topic),
              ...(packet.text === undefined ? {} : { text: hide(packet.text) }),
              ...(packet.hex === undefined ? {} : { hex: hide(packet.hex) }),
            },
          }),
    })),
  }
}

/** Blots passwords out, as text and as hexadecimal bytes. */
function hider(happenings: readonly Happening[]): (text: string) => string {
  const secrets = new Set<string>()
  for (const one of happenings) {
    if (one.kind !== 'up' || one.packet.cmd !== 'connect') continue
    const { password } = one.packet
    if (password === null || password.length === 0) continue
    secrets.add(Buffer.from(password).toString())
    secrets.add(Buffer.from(password).toString('hex'))
  }
  return (text) => [...secrets].reduce((left, secret) => left.replaceAll(secret, '•••'), text)
}

/** One line a requirement, and a last one that counts them. */
export function linesOf({ requirements, counts }: Report): readonly string[] {
  const rows = requirements.map(({ id, verdict, about, told, packet }) => {
    const shown =
      packet === undefined ? '' : `: ${packet.topic} ${packet.text ?? `hex ${packet.hex ?? ''}`}`
    return oneLine(`${id}  ${verdict.padEnd(10)}  ${about}: ${told}${shown}`)
  })
  const { met } = counts
  return [
    ...rows,
    '',
    `${met} met, ${counts['not met']} not met, ${counts['not tested']} not tested`,
  ]
}

/** What came from a probe must not move the cursor. */
const oneLine = (text: string): string => text.replace(/\p{Cc}/gu, '?')
