import { useState } from 'preact/hooks'
import type { Decision } from '../../../hub/api/schemas/planning.ts'
import { api } from '../api.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { BandStrip } from '../parts/plan/band-strip.tsx'
import { BufferingPart } from '../parts/plan/buffering.tsx'
import { DraftPart } from '../parts/plan/draft.tsx'
import { Materials } from '../parts/plan/materials.tsx'
import { Need } from '../parts/plan/need.tsx'
import { describedAs, headline } from '../parts/plan/plan-words.ts'
import { PastPlans, Running } from '../parts/plan/running.tsx'
import '../parts/findings/findings.css'
import '../parts/plan/plan.css'
import { Link } from '../parts/link.tsx'
import { say } from '../say.ts'
import { useThrottled } from '../use-throttled.ts'

/** What a bed needs changes slowly; what the gardener does asks again at once. */
const REFETCH_MS = 60_000

/** Decide what to do about one bed. */
export function PlanView({ id }: { id: number }) {
  const { loaded, beds, bedTicks, journalTicks, alarmTick, connection } = useHub()
  const [target, setTarget] = useState<number | null>(null)
  const tick = useThrottled(bedTicks[id] ?? 0, REFETCH_MS)
  const bed = beds.find((b) => b.id === id)
  const asked = useLoad(
    loaded && bed !== undefined ? `decision ${id} ${target}` : null,
    (signal) => api.decision(id, target, signal),
    `${tick} ${journalTicks[id] ?? 0} ${alarmTick} ${connection} ${bed === undefined ? '' : describedAs(bed)}`,
  )
  if (bed === undefined) {
    return loaded ? (
      <>
        <h1>{say`No such bed`}</h1>
        <p class="sentence">
          {say`There is no bed ${id} in use.`}{' '}
          <Link to={{ page: 'garden' }}>{say`Back to the garden`}</Link>
        </p>
      </>
    ) : (
      <p class="quiet-line">{say`Fetching the garden …`}</p>
    )
  }
  return (
    <>
      {asked.problem !== null && (
        <p class="error" role="alert">
          {say`What to do could not be fetched: ${asked.problem.detail ?? asked.problem.title}.`}{' '}
          <button type="button" onClick={asked.reload}>{say`Fetch again`}</button>
        </p>
      )}
      {asked.data === null ? (
        <>
          <h1>{bed.name}</h1>
          {asked.problem === null && <p class="quiet-line">{say`Reckoning what to do …`}</p>}
        </>
      ) : (
        <Decided
          decision={asked.data}
          target={target}
          onTarget={setTarget}
          onChanged={asked.reload}
        />
      )}
    </>
  )
}

interface DecidedProps {
  readonly decision: Decision
  readonly target: number | null
  readonly onTarget: (target: number | null) => void
  readonly onChanged: () => void
}

function Decided({ decision, target, onTarget, onChanged }: DecidedProps) {
  const { garden } = useHub()
  const { need, running, past, bedId, at } = decision
  const [chosen, setChosen] = useState<string | null>(null)
  const option = decision.options.find(({ material }) => material === chosen)
  const choose = (material: string): void => {
    setChosen(material)
    requestAnimationFrame(() => {
      const heading = document.getElementById('portions')
      heading?.focus({ preventScroll: true })
      heading?.scrollIntoView()
    })
  }
  return (
    <div data-plan={bedId} class="plan-page">
      <header class="plan-head">
        <div>
          <p class="crops">
            <Link to={{ page: 'bed', id: bedId }}>{decision.bed}</Link>
          </p>
          <h1 data-testid="headline">{headline(decision, garden.units)}</h1>
          <p class="sentence">{need.sentence}</p>
        </div>
        <BandStrip need={need} />
      </header>
      <div class="sheet questions">
        {running !== null && (
          <Running plan={running} band={need.band} now={at} onChanged={onChanged} />
        )}
        <Need decision={decision} target={target} onTarget={onTarget} onChanged={onChanged} />
        <BufferingPart decision={decision} onChanged={onChanged} />
        <Materials
          decision={decision}
          chosen={chosen}
          onChoose={running === null ? choose : undefined}
          onChanged={onChanged}
        />
        {running === null && option !== undefined && (
          <DraftPart
            key={option.material}
            decision={decision}
            option={option}
            target={target}
            onKept={() => {
              setChosen(null)
              onChanged()
              document.getElementById('main')?.focus()
              window.scrollTo({ top: 0 })
            }}
          />
        )}
        <PastPlans plans={past} band={need.band} now={at} />
      </div>
    </div>
  )
}
