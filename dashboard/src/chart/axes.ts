import type uPlot from 'uplot'
import type { Palette } from './palette.ts'

interface Tick {
  readonly at: number
  readonly label: string
}

/** The axis of time: the ticks of the garden's own calendar. */
export function timeAxis(palette: Palette, ticks: () => readonly Tick[]): uPlot.Axis {
  return {
    size: 30,
    font: `12px ${palette.font}`,
    stroke: palette.faint,
    splits: () => ticks().map(({ at }) => at),
    values: () => ticks().map(({ label }) => label),
    grid: { stroke: palette.rule, width: 1 },
    ticks: { stroke: palette.rule, width: 1, size: 5 },
  }
}

/** Steps of an axis of pH. */
export const PH_STEPS = [0.1, 0.2, 0.5, 1, 2]

/** The axis of what is drawn; `write` puts a value into the gardener's words. */
export function valueAxis(
  palette: Palette,
  write: (value: number) => string,
  { size, steps }: { readonly size: number; readonly steps?: number[] },
): uPlot.Axis {
  return {
    size,
    font: `12px ${palette.font}`,
    stroke: palette.faint,
    space: 26,
    ...(steps === undefined ? {} : { incrs: steps }),
    values: (_, splits) => splits.map(write),
    grid: { stroke: palette.rule, width: 1 },
    ticks: { show: false },
  }
}
