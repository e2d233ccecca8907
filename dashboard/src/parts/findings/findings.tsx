import { useEffect } from 'preact/hooks'
import type { BedView } from '../../../../hub/api/schemas/bed.ts'
import type { EventView, Findings as Found } from '../../../../hub/api/schemas/findings.ts'
import { dateTime } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Ahead } from './ahead.tsx'
import { Changed } from './changed.tsx'
import { Drift } from './drift.tsx'
import { Effects } from './effects.tsx'
import './findings.css'
import { Quality } from './quality.tsx'
import { SpotsNeeded } from './spots-needed.tsx'
import { Water } from './water.tsx'

interface FindingsProps {
  readonly bed: BedView
  readonly findings: Found
  readonly litEvent: string | null
  readonly onLitEvent: (id: string | null) => void
  readonly onShowEvent: (event: EventView) => void
  readonly onEntry: (id: number) => void
}

/** All that was found out about a bed, question by question. */
export function Findings({ bed, findings, ...rest }: FindingsProps) {
  const { garden } = useHub()
  const { litEvent, onLitEvent, onShowEvent, onEntry } = rest
  // An address such as /bed/1#water was asked for before there was anything to go to.
  useEffect(() => {
    if (location.hash !== '') document.getElementById(location.hash.slice(1))?.scrollIntoView()
  }, [])
  return (
    <section class="sheet findings" aria-labelledby="found" data-testid="findings">
      <div class="section-head">
        <h2 id="found">{say`What was found`}</h2>
        <p class="faint">
          {findings.studiedAt === null
            ? say`the slow questions have not been gone through yet`
            : say`slow questions gone through ${dateTime(findings.studiedAt, garden)}`}
        </p>
      </div>
      <Changed
        findings={findings}
        lit={litEvent}
        onLit={onLitEvent}
        onShow={onShowEvent}
        onEntry={onEntry}
      />
      <Drift findings={findings} />
      <Effects findings={findings} onEntry={onEntry} />
      <Ahead bed={bed} findings={findings} />
      <Water findings={findings} />
      <SpotsNeeded findings={findings} />
      <Quality bed={bed.id} />
    </section>
  )
}
