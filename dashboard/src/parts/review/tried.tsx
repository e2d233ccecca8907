import type { Trial } from '../../../../hub/api/schemas/trial.ts'
import { said, say, toSay } from '../../say.ts'
import { saying } from '../../saying.ts'
import { Link } from '../link.tsx'
import { VERDICT_WORDS, phaseOf } from '../trials/trial-words.ts'

/** Trials that are over, of those a bed had a part in. */
export function triedIn(trials: readonly Trial[], bed: number, now: number): Trial[] {
  return trials.filter(
    (trial) =>
      phaseOf(trial, now) === 'over' &&
      [...trial.treated, ...trial.untreated].some(({ id }) => id === bed),
  )
}

/** What came out of claims put to the test in a bed. */
export function Tried({ trials }: { trials: readonly Trial[] }) {
  if (trials.length === 0) return null
  return (
    <>
      <h4>{say`Put to the test`}</h4>
      <ul class="tried">
        {trials.map((trial) => (
          <li key={trial.id}>
            <Link to={{ page: 'trials', trial: trial.id }}>{say`“${trial.claim}”`}</Link>:{' '}
            {trial.givenUpAt === null
              ? saying('{0}.', <strong>{said(VERDICT_WORDS[trial.result.verdict])}</strong>)
              : saying(
                  toSay('{0}, given up early.'),
                  <strong>{said(VERDICT_WORDS[trial.result.verdict])}</strong>,
                )}{' '}
            <span class="sentence">{trial.result.sentence}</span>
          </li>
        ))}
      </ul>
    </>
  )
}
