import { describe, expect, test } from 'vitest'
import { dosingOf } from '#hub/agronomy/dosing.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Plan } from '#hub/model/plan.ts'
import { noResponseCauses, tooMuchCauses } from '#hub/planning/follow/likely-causes.ts'
import { type Change, factsOf, NOW, treated } from '../facts.ts'

const sulfur = dosingOf('sulfur')!
const limestone = dosingOf('ground-limestone')!
const SINCE = NOW - 150 * DAY

const drifting: Partial<Change> = {
  study: {
    electrodes: [
      {
        spotId: 1,
        probe: 'hern1',
        since: null,
        drift: {
          status: 'ok',
          per30Days: 0.2,
          low: 0.1,
          high: 0.3,
          days: 40,
          peers: 2,
          drifts: true,
        },
        jumps: { status: 'insufficient', have: '', need: '' },
      },
    ],
  },
}
const dry: Partial<Change> = {
  assessment: {
    water: { state: 'dry', since: null, standing: {} as never, sentence: '', grounds: [] },
  },
}
const fizz = (fizzes: boolean): Partial<Change> => ({
  tests: [{ bedId: 1, at: NOW - 20 * DAY, text: '', kind: 'vinegar test', fizzes }],
})

describe('no response: what the bed itself points at comes first', () => {
  test.each([
    ['cold soil', { soilC: () => 7 }, /^The soil was cold: 7 °C/],
    ['dry soil', { soilC: () => 20, ...dry }, /is dry at present/],
    ['free lime', { soilC: () => 20, ...fizz(true) }, /as the vinegar test showed/],
    ['a probe that drifts', { soilC: () => 20, ...drifting }, /^A probe of this bed drifts/],
  ] as const)('%s', (_, change, first) => {
    expect(noResponseCauses(factsOf(change), sulfur, SINCE)[0]).toMatch(first)
  })

  test('all that is usual is there when nothing points anywhere', () => {
    const said = noResponseCauses(factsOf({ soilC: () => 20 }), sulfur, SINCE).join(' ')
    for (const word of [
      'dry',
      'free lime',
      'slurry sample',
      'not worked in',
      'coarse',
      'jar test',
    ]) {
      expect(said).toContain(word)
    }
  })

  test('what was ruled out is left out', () => {
    const said = (change: Partial<Change>, dosing = sulfur): string =>
      noResponseCauses(factsOf(change), dosing, SINCE).join(' ')
    expect(said(fizz(false))).not.toContain('free lime')
    // Lime needs neither warmth nor soil without free lime.
    expect(said({ soilC: () => 3 }, limestone)).not.toMatch(/cold|free lime/)
  })
})

describe('too much: what the bed itself points at comes first', () => {
  const stage = {
    dueAt: SINCE,
    amountG: 1000,
    change: { low: 0.2, typical: 0.4, high: 0.6 },
    fullFrom: SINCE,
    fullBy: SINCE,
    retestsAt: [],
    entryId: 1,
  }
  const plan: Plan = {
    id: 1,
    bedId: 1,
    createdAt: SINCE,
    material: 'ground-limestone',
    strength: 0.9,
    fromPh: 5.5,
    targetPh: 6.4,
    buffering: { low: 290, typical: 390, high: 525 },
    basis: '',
    stages: [stage],
    closedAt: null,
    ending: null,
  }
  const causes = (change: Partial<Change>, amountG = 1000): readonly string[] =>
    tooMuchCauses(
      factsOf({ journal: [treated('ground limestone', 150, amountG)], ...change }),
      plan,
      [{ stage, at: SINCE, amountG }],
    )

  test('more was put on than planned', () => {
    expect(causes({}, 1500)[0]).toBe('More went on than was planned: 1.5 kg instead of 1 kg.')
    expect(causes({}, 1100).join(' ')).not.toContain('More went on')
  })

  test('something else went on, but not what leaves pH alone', () => {
    const own = treated('ground limestone', 150, 1000)
    expect(causes({ journal: [own, treated('wood ash', 100, 500)] })[0]).toContain('wood ash')
    expect(causes({ journal: [own, treated('gypsum', 100, 500)] }).join(' ')).not.toContain(
      'gypsum',
    )
    expect(causes({ journal: [own, treated('wood ash', 300, 500)] }).join(' ')).not.toContain('ash')
  })

  test('fertiliser, then a probe', () => {
    const own = treated('ground limestone', 150, 1000)
    expect(
      causes({ journal: [own, treated('NPK feed', 10, 100)] })
        .slice(0, 2)
        .join(' '),
    ).toContain('Fertiliser')
    expect(causes(drifting)[0]).toContain('A probe that reads falsely')
    expect(causes({}).at(-1)).toContain('holds its pH less strongly')
  })
})
