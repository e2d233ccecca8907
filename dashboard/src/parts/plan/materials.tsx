import { Fragment } from 'preact'
import type {
  Decision,
  MaterialOptionView,
  ToldView,
} from '../../../../hub/api/schemas/planning.ts'
import { dateOnly } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { opening } from '../../opening.ts'
import { said, say, toSay } from '../../say.ts'
import { spreadRange, spreadText } from './dose-words.ts'
import { canDraft, missingOf, ownTold, waitsUntil } from './plan-words.ts'
import { Question } from './question.tsx'
import { Settles } from './settle.tsx'
import { ToldList } from './told-list.tsx'
import { portionText, weightRange, weightText } from '../../weight-words.ts'

interface MaterialsProps {
  readonly decision: Decision
  readonly chosen: string | null
  /** Left out: only looked at, a plan runs. */
  readonly onChoose?: ((material: string) => void) | undefined
  readonly onChanged: () => void
}

const GROUPS = [
  ['possible', toSay('Can be used now')],
  ['wait', toSay('Not yet')],
  ['refused', toSay('Not for this bed')],
] as const

/** Every material of the table: what can be used, what has to wait, and what is refused, each with its reasons. */
export function Materials(props: MaterialsProps) {
  const { options, need, running } = props.decision
  const moves = need.verdict === 'raise' || need.verdict === 'lower'
  return (
    <Question id="materials" title={say`With what`}>
      {running !== null ? (
        <p class="sentence">{say`A plan runs: another one can be made when it has ended.`}</p>
      ) : need.verdict === 'none' ? (
        <p class="sentence">{say`Nothing has to go on, so nothing is offered.`}</p>
      ) : (
        !moves && (
          <p class="sentence">{say`Nothing can be chosen before it is known whether the bed needs anything.`}</p>
        )
      )}
      {GROUPS.map(([verdict, words]) => {
        const rows = options.filter((option) => option.verdict === verdict)
        if (rows.length === 0) return null
        const table = <Group key={verdict} {...props} rows={rows} words={said(words)} />
        return verdict !== 'refused' && moves && running === null ? (
          table
        ) : (
          <details key={verdict} class="group">
            <summary>
              {said(words)}: {rows.map(({ name }) => name).join(', ')}
            </summary>
            {table}
          </details>
        )
      })}
    </Question>
  )
}

function Group({
  rows,
  words,
  ...props
}: MaterialsProps & { readonly rows: readonly MaterialOptionView[]; readonly words: string }) {
  const dosed = rows.some(({ dose }) => dose !== null)
  return (
    <div class="scroll">
      <table class="stack materials">
        <caption>{words}</caption>
        <thead>
          <tr>
            <th scope="col">{say`Material`}</th>
            {dosed && (
              <>
                <th scope="col">{say`Whole way, on the bed`}</th>
                <th scope="col">{say`On the ground`}</th>
              </>
            )}
            <th scope="col">
              <span class="unseen">{say`What to do`}</span>
            </th>
          </tr>
        </thead>
        <tbody>
          {rows.map((option) => (
            <Row key={option.material} {...props} option={option} dosed={dosed} />
          ))}
        </tbody>
      </table>
    </div>
  )
}

function whyWords(dosed: boolean, rest: number): string {
  if (dosed) {
    return rest > 0 ? say`Why so much, and what else holds (${rest})` : say`Why so much`
  }
  return rest > 0 ? say`What it does, and what else holds (${rest})` : say`What it does`
}

function Row({
  decision: { need, bedId, soil },
  chosen,
  onChoose,
  onChanged,
  option,
  dosed,
}: MaterialsProps & { readonly option: MaterialOptionView; readonly dosed: boolean }) {
  const { garden } = useHub()
  const { units } = garden
  const { dose, most, name, material, verdict, expected } = option
  const [briefly, more] = opening(expected)
  const own = ownTold(option, need)
  const until = waitsUntil(option)
  const grave = missingOf({ told: own })
  // What can harm is never folded away.
  const risks = own.filter(({ effect }) => effect === 'warn')
  const rest = own.filter((told) => !grave.includes(told) && !risks.includes(told))
  const action = ({ settle }: ToldView) =>
    settle !== null && <Settles ways={[settle]} bedId={bedId} soil={soil} onDone={onChanged} />
  const isChosen = chosen === material
  return (
    <Fragment>
      <tr class="figures-row" data-material={material}>
        <th scope="row">{name}</th>
        {dosed && (
          <>
            <td data-label={say`Whole way, on the bed`}>
              {dose === null ? (
                '–'
              ) : (
                <>
                  <strong class="figures">{weightText(dose.bedG.typical, units)}</strong>{' '}
                  <span class="faint">({weightRange(dose.bedG, units)})</span>
                  {most !== null && (
                    <strong class="most">{say`at most ${portionText(most.bedG, units)} of it in a year`}</strong>
                  )}
                </>
              )}
            </td>
            <td data-label={say`On the ground`}>
              {dose === null ? (
                '–'
              ) : (
                <>
                  <span class="figures">{spreadText(dose.gM2.typical, units)}</span>{' '}
                  <span class="faint">({spreadRange(dose.gM2, units)})</span>
                </>
              )}
            </td>
          </>
        )}
        <td class="choose">
          {canDraft(option) && onChoose !== undefined && (
            <button type="button" aria-pressed={isChosen} onClick={() => onChoose(material)}>
              {isChosen ? say`Chosen` : say`Plan with it`}
              <span class="unseen">: {name}</span>
            </button>
          )}
          {verdict === 'wait' && until !== null && (
            <span class="until">{say`not before ${dateOnly(until, garden)}`}</span>
          )}
        </td>
      </tr>
      <tr class="said">
        <td colSpan={dosed ? 4 : 2}>
          {verdict !== 'refused' && <p class="sentence">{briefly}</p>}
          {grave.length > 0 && (
            <ToldList told={grave} label={say`Why not ${name}`} action={action} />
          )}
          <ToldList told={risks} label={say`Take care with ${name}`} action={action} />
          {verdict === 'wait' && grave.length === 0 && (
            <p class="faint">{say`Waits for what is missing above.`}</p>
          )}
          <details class="why">
            <summary>
              {whyWords(dose !== null, rest.length)}
              <span class="unseen">: {name}</span>
            </summary>
            {dose !== null && (
              <ol class="steps" aria-label={say`Arithmetic for ${name}`}>
                {dose.steps.map((step) => (
                  <li key={step}>{step}</li>
                ))}
              </ol>
            )}
            <p>{verdict === 'refused' ? expected : more}</p>
            <ToldList told={rest} label={say`What else holds for ${name}`} action={action} />
          </details>
        </td>
      </tr>
    </Fragment>
  )
}
