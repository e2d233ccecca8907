import type { ComponentChildren } from 'preact'
import { useContext, useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks'
import uPlot from 'uplot'
import 'uplot/dist/uPlot.min.css'
import './plot.css'
import { usePalette } from './palette.ts'
import type { Palette } from './palette.ts'
import { PicturePlace } from './picture-place.ts'
import type { Range } from './range.ts'
import { joinCursor, shareCursor } from './shared-cursor.ts'
import type { CursorFollower } from './shared-cursor.ts'

/** The paper of a chart within its place, CSS px. */
export interface PaperBox {
  readonly left: number
  readonly top: number
  readonly width: number
  readonly height: number
  readonly range: Range
}

/** What can be asked of a chart that is drawn. */
export interface PlotHandle {
  /** Puts the cursor of this and all other charts to a time. */
  readonly point: (at: number | null) => void
}

export interface PlotProps {
  /** Options without size; read once for each `buildKey` and palette. Hooks in them may read refs for what changes. */
  readonly build: (palette: Palette) => Omit<uPlot.Options, 'width' | 'height'>
  /** The chart is built anew when this changes. */
  readonly buildKey: string
  readonly data: uPlot.AlignedData
  /** CSS px; `fill` takes the height of the place it is put in. */
  readonly height: number | 'fill'
  /** Changes when something the draw hooks use has changed. */
  readonly drawKey: string
  /** Time to which the cursor should go, epoch ms; null leaves it alone. */
  readonly cursorAt?: number | null
  /** What is shown; needed by charts that can be zoomed. */
  readonly range?: Range
  /** Whether there is a zoom to go back from. */
  readonly isZoomed?: boolean
  /** A stretch was chosen; `goesOn`: by the same movement as the one before. */
  readonly onZoom?: (range: Range, goesOn?: boolean) => void
  readonly onReset?: () => void
  /** Time under the cursor, or null when it left; also when another chart led it there. */
  readonly onCursor?: (at: number | null) => void
  /** Laid over the chart, given where its paper is. */
  readonly over?: (box: PaperBox, plot: PlotHandle) => ComponentChildren
}

const NO_SELECTION = { left: 0, top: 0, width: 0, height: 0 }

/** One chart: built when mounted, destroyed when unmounted, as wide as its place. */
export function Plot(props: PlotProps) {
  const place = useRef<HTMLDivElement>(null)
  const chart = useRef<uPlot | null>(null)
  const latest = useRef(props)
  latest.current = props
  const palette = usePalette()
  const picture = useContext(PicturePlace)
  const [box, setBox] = useState<PaperBox | null>(null)
  const handle = useRef<PlotHandle>({ point: () => undefined })
  const buildKey = `${props.buildKey} ${JSON.stringify(palette)}`

  useLayoutEffect(() => {
    const div = place.current
    if (div === null) return
    const { build, data, height } = latest.current
    const options = build(palette)
    const zoomable = latest.current.onZoom !== undefined
    let told: number | null = null
    let following = false
    const isOff = (u: uPlot): boolean => {
      const { left } = u.cursor
      return left === undefined || left < 0 || left > u.over.clientWidth
    }
    const tellCursor = (u: uPlot): void => {
      const at = isOff(u) ? null : u.posToVal(u.cursor.left ?? 0, 'x')
      if (at === told) return
      told = at
      latest.current.onCursor?.(at)
      if (!following) shareCursor(follower, at)
    }
    const tellBox = (u: uPlot): void => {
      if (latest.current.over === undefined) return
      const { min, max } = u.scales['x'] ?? {}
      if (typeof min !== 'number' || typeof max !== 'number') return
      const px = uPlot.pxRatio
      const next = {
        left: u.bbox.left / px,
        top: u.bbox.top / px,
        width: u.bbox.width / px,
        height: u.bbox.height / px,
        range: { from: min, to: max },
      }
      setBox((old) => (JSON.stringify(old) === JSON.stringify(next) ? old : next))
    }
    const made = new uPlot(
      {
        ...options,
        width: Math.max(60, div.clientWidth),
        height: height === 'fill' ? Math.max(60, div.clientHeight) : height,
        ms: 1,
        legend: { show: false },
        cursor: {
          y: false,
          points: { show: false },
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
          draw: [
            ...(options.hooks?.draw ?? []),
            (u) => {
              tellBox(u)
              performance.clearMarks('loamline drawn')
              performance.mark('loamline drawn')
            },
          ],
          setCursor: [tellCursor],
          setSelect: [
            (u) => {
              const { left, width } = u.select
              if (width < 6) return
              const from = Math.round(u.posToVal(left, 'x'))
              const to = Math.round(u.posToVal(left + width, 'x'))
              u.setSelect(NO_SELECTION, false)
              if (to > from) latest.current.onZoom?.({ from, to })
            },
          ],
        },
      },
      data,
      div,
    )
    chart.current = made
    const point = (at: number | null): void => {
      const { min, max } = made.scales['x'] ?? {}
      const within =
        at !== null && typeof min === 'number' && typeof max === 'number' && at >= min && at <= max
      made.setCursor(within ? { left: made.valToPos(at, 'x'), top: 10 } : { left: -10, top: -10 })
    }
    const follower: CursorFollower = {
      follow: (at) => {
        following = true
        point(at)
        following = false
      },
    }
    handle.current = { point }
    const leave = options.cursor?.show === false ? null : joinCursor(follower)
    let gone = false
    let still = (): void => undefined
    // The wall's lanes have no zoom: the garden page does without this.
    if (zoomable) {
      void import('./gestures.ts').then(({ attachGestures }) => {
        if (gone) return
        still = attachGestures(made, {
          range: () => latest.current.range ?? { from: 0, to: 1 },
          isZoomed: () => latest.current.isZoomed === true,
          onMove: (range, first) => latest.current.onZoom?.(range, !first),
          onReset: () => latest.current.onReset?.(),
        })
      })
    }
    const watch = new ResizeObserver(([entry]) => {
      const width = Math.max(60, Math.floor(entry?.contentRect.width ?? 0))
      const tall = Math.max(60, Math.floor(entry?.contentRect.height ?? 0))
      const height = latest.current.height === 'fill' ? tall : latest.current.height
      if (width !== made.width || height !== made.height) made.setSize({ width, height })
    })
    watch.observe(div)
    return () => {
      leave?.()
      gone = true
      still()
      watch.disconnect()
      made.destroy()
      chart.current = null
    }
  }, [buildKey])

  useEffect(() => {
    if (picture === null) return
    picture.current = async (colours, width) => {
      const { drawApart } = await import('./draw-apart.ts')
      return drawApart(latest.current, colours, width)
    }
    return () => {
      picture.current = null
    }
  }, [picture])

  const first = useRef('')
  useEffect(() => {
    // The data of a chart just built is already in it.
    if (first.current === buildKey) chart.current?.setData(props.data, true)
    first.current = buildKey
  }, [props.data, props.drawKey, buildKey])

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
  const canvas = (
    <div
      class={`plot${fill ? ' fill' : ''}${dark ? ' light-ink' : ''}`}
      ref={place}
      style={fill ? {} : { height: `${props.height}px` }}
      aria-hidden="true"
    />
  )
  if (props.over === undefined) return canvas
  return (
    <div class="plot-stage">
      {canvas}
      {box !== null && props.over(box, { point: (at) => handle.current.point(at) })}
    </div>
  )
}
