import { useEffect, useLayoutEffect, useRef } from 'preact/hooks'
import uPlot from 'uplot'
import 'uplot/dist/uPlot.min.css'
import type { Range } from './range.ts'

export interface PlotProps {
  /** Options without size; read once for each `buildKey`. Hooks in them may read refs for what changes. */
  readonly build: () => Omit<uPlot.Options, 'width' | 'height'>
  /** The chart is built anew when this changes. */
  readonly buildKey: string
  readonly data: uPlot.AlignedData
  /** CSS px; `fill` takes the height of the place it is put in. */
  readonly height: number | 'fill'
  /** Changes when something the draw hooks use has changed. */
  readonly drawKey: string
  /** Time to which the cursor should go, epoch ms; null leaves it alone. */
  readonly cursorAt?: number | null
  readonly onZoom?: (range: Range) => void
  readonly onReset?: () => void
}

/** One chart: built when mounted, destroyed when unmounted, as wide as its place. */
export function Plot(props: PlotProps) {
  const place = useRef<HTMLDivElement>(null)
  const chart = useRef<uPlot | null>(null)
  const latest = useRef(props)
  latest.current = props

  useLayoutEffect(() => {
    const div = place.current
    if (div === null) return
    const { build, data, height } = latest.current
    const options = build()
    const zoomable = latest.current.onZoom !== undefined
    const made = new uPlot(
      {
        ...options,
        width: Math.max(60, div.clientWidth),
        height: height === 'fill' ? Math.max(60, div.clientHeight) : height,
        ms: 1,
        legend: { show: false },
        cursor: {
          ...options.cursor,
          drag: { x: zoomable, y: false, setScale: false, dist: 6 },
          bind: {
            dblclick: () => () => {
              latest.current.onReset?.()
              return null
            },
          },
        },
        hooks: {
          ...options.hooks,
          setSelect: [
            (u) => {
              const { left, width } = u.select
              if (width < 6) return
              const from = Math.round(u.posToVal(left, 'x'))
              const to = Math.round(u.posToVal(left + width, 'x'))
              u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false)
              if (to > from) latest.current.onZoom?.({ from, to })
            },
          ],
        },
      },
      data,
      div,
    )
    chart.current = made
    const watch = new ResizeObserver(([entry]) => {
      const width = Math.max(60, Math.floor(entry?.contentRect.width ?? 0))
      const tall = Math.max(60, Math.floor(entry?.contentRect.height ?? 0))
      const height = latest.current.height === 'fill' ? tall : latest.current.height
      if (width !== made.width || height !== made.height) made.setSize({ width, height })
    })
    watch.observe(div)
    return () => {
      watch.disconnect()
      made.destroy()
      chart.current = null
    }
  }, [props.buildKey])

  const first = useRef('')
  useEffect(() => {
    // The data of a chart just built is already in it.
    if (first.current === props.buildKey) chart.current?.setData(props.data, true)
    first.current = props.buildKey
  }, [props.data, props.drawKey, props.buildKey])

  const { cursorAt } = props
  useEffect(() => {
    const u = chart.current
    if (u === null || cursorAt === null || cursorAt === undefined) return
    // New scales hold only from the chart's next turn on, and the range may have changed with the cursor.
    queueMicrotask(() => {
      if (chart.current === u) u.setCursor({ left: u.valToPos(cursorAt, 'x'), top: 10 })
    })
  }, [cursorAt, props.drawKey])

  const fill = props.height === 'fill'
  // What was drawn for a dark screen has to be turned over on white paper.
  const dark = matchMedia('(prefers-color-scheme: dark)').matches
  return (
    <div
      class={`plot${fill ? ' fill' : ''}${dark ? ' light-ink' : ''}`}
      ref={place}
      style={fill ? {} : { height: `${props.height}px` }}
      aria-hidden="true"
    />
  )
}
