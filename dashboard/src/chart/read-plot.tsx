import { useState } from 'preact/hooks'
import { ChartKeys } from './chart-keys.tsx'
import type { ChartMark } from './chart-keys.tsx'
import { Plot } from './plot.tsx'
import type { PlotProps } from './plot.tsx'

const NO_MARKS: readonly ChartMark[] = []

interface ReadPlotProps extends Omit<PlotProps, 'over' | 'onCursor'> {
  readonly name: string
  /** Times with something known, ascending. */
  readonly times: readonly number[]
  /** The reading at a time, in words. */
  readonly read: (at: number) => string
  readonly marks?: readonly ChartMark[]
}

/** A chart that is read off on its own: what lies under the cursor stands beneath it. */
export function ReadPlot({ name, times, read, marks = NO_MARKS, ...plot }: ReadPlotProps) {
  const [at, setAt] = useState<number | null>(null)
  return (
    <>
      <Plot
        {...plot}
        onCursor={setAt}
        over={(box, handle) => (
          <ChartKeys box={box} plot={handle} name={name} times={times} read={read} marks={marks} />
        )}
      />
      <p class="plot-reading" aria-hidden="true">
        {at === null ? '' : read(at)}
      </p>
    </>
  )
}
