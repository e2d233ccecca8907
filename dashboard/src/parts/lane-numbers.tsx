import type { BedView } from '../../../hub/api/schemas/bed.ts'
import type { ChartColumns } from '../chart/columns.ts'
import type { DrawAgain } from '../chart/picture-place.ts'
import type { Range } from '../chart/range.ts'
import { useHub } from '../hub-context.tsx'
import { shownAs } from '../quantity.ts'
import { say } from '../say.ts'
import { bedTable } from './bed-figure.ts'
import { FigureBody } from './figure/figure-body.tsx'

interface LaneNumbersProps {
  readonly bed: BedView
  readonly columns: ChartColumns
  readonly range: Range
  readonly summary: string
  readonly draw: () => DrawAgain | null
}

/** What is behind a lane of the wall. */
export function LaneNumbers({ bed, columns, range, summary, draw }: LaneNumbersProps) {
  const { garden } = useHub()
  const as = shownAs('ph', garden.units)
  return (
    <>
      <p class="faint">{summary}</p>
      <FigureBody
        name={say`pH of ${bed.name}`}
        table={bedTable({ columns, as }, range, garden)}
        draw={draw}
        file={[bed.name, as.words]}
        picture={{
          title: say`pH of ${bed.name}`,
          subtitle: summary,
          legend: [
            { sign: 'line', words: say`the bed` },
            { sign: 'shade', words: say`its 95 % interval` },
            { sign: 'band', words: say`crop band` },
            { sign: '✚', words: say`sample` },
            { sign: '⚑', words: say`alarm` },
          ],
          foot: [say`Times in ${garden.zone}`],
        }}
      />
    </>
  )
}
