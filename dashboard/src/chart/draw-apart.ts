import uPlot from 'uplot'
import type { Palette } from './palette.ts'
import type { PlotProps } from './plot.tsx'

/** The same chart once more, in other colours, on a canvas of its own. */
export async function drawApart(
  { build, data, height }: PlotProps,
  palette: Palette,
  width: number,
): Promise<HTMLCanvasElement> {
  const div = document.createElement('div')
  const made = new uPlot(
    {
      ...build(palette),
      width,
      height: height === 'fill' ? 200 : height,
      ms: 1,
      legend: { show: false },
      cursor: { show: false },
    },
    data,
    div,
  )
  // The chart draws itself in its own next turn.
  await new Promise((resolve) => setTimeout(resolve, 0))
  const { canvas } = made.ctx
  made.destroy()
  return canvas
}
