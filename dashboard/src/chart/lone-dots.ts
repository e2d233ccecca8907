import type uPlot from 'uplot'
import type { Column } from './columns.ts'
import type { Palette } from './palette.ts'
import { shortRuns } from './short-runs.ts'

const LEAST_PX = 4

/** Dots only where the line would be too short to be seen. `size` is the diameter, CSS px. */
export function loneDots(palette: Palette, size: number): uPlot.Series.Points {
  return {
    show: true,
    size,
    width: 0,
    fill: palette.ink,
    filter: (u, series) => {
      const { min, max } = u.scales['x'] ?? {}
      if (typeof min !== 'number' || typeof max !== 'number') return []
      const least = ((max - min) / Math.max(1, u.over.clientWidth)) * LEAST_PX
      return shortRuns(u.data[0] as number[], u.data[series] as Column, least)
    },
  }
}
