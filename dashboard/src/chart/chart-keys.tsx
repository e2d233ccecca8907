import { useEffect, useRef, useState } from 'preact/hooks'
import { say } from '../say.ts'
import { nearest } from './near.ts'
import { cursorStep } from './cursor-keys.ts'
import type { PaperBox, PlotHandle } from './plot.tsx'
import { zoomed } from './range-moves.ts'
import type { Range } from './range.ts'
import { joinCursor } from './shared-cursor.ts'

/** A sign is read when the cursor is this near, CSS px. */
const NEAR_PX = 8

/** Something on a chart that can be read: what the canvas shows as a sign. */
export interface ChartMark {
  readonly id: string
  /** Epoch ms. */
  readonly at: number
  /** Where its sign is: at the head of the paper or at its foot. */
  readonly edge: 'head' | 'foot'
  readonly words: string
}

interface ChartKeysProps {
  readonly box: PaperBox
  readonly plot: PlotHandle
  /** What the chart shows, for those who do not see it. */
  readonly name: string
  /** Times with something known, ascending. */
  readonly times: readonly number[]
  /** The reading at a time, in words. */
  readonly read: (at: number) => string
  readonly marks: readonly ChartMark[]
  readonly onZoom?: ((range: Range) => void) | undefined
  readonly onReset?: (() => void) | undefined
}

/** Reads a chart by keyboard: the cursor over its columns, and its signs one by one. */
export function ChartKeys(props: ChartKeysProps) {
  const { box, plot, marks } = props
  const { from, to } = box.range
  const times = props.times.filter((at) => at >= from && at <= to)
  const [at, setAt] = useState<number | null>(null)
  const place = at === null ? times.length - 1 : nearest(times, at)
  const here = times[place]
  const onKey = (event: KeyboardEvent): void => {
    if (event.altKey || event.ctrlKey || event.metaKey) return
    const step = cursorStep(event.key, { at: place, count: times.length, shift: event.shiftKey })
    if (step === null) return
    if (step === 'reset') {
      // Escape that has nothing to go back from is somebody else's.
      if (props.onReset === undefined) return
      props.onReset()
    } else if ('zoom' in step) {
      const about = here ?? (from + to) / 2
      const half = (to - from) / 2
      props.onZoom?.(zoomed({ from: about - half, to: about + half }, step.zoom))
    } else {
      const next = times[step.to] ?? null
      setAt(next)
      plot.point(next)
    }
    event.preventDefault()
  }
  return (
    <>
      <div
        class="plot-cursor"
        role="slider"
        tabIndex={0}
        aria-label={say`${props.name}: the reading under the cursor`}
        aria-valuemin={0}
        aria-valuemax={Math.max(0, times.length - 1)}
        aria-valuenow={Math.max(0, place)}
        aria-valuetext={here === undefined ? say`nothing known here` : props.read(here)}
        aria-keyshortcuts="ArrowLeft ArrowRight Shift+ArrowLeft Shift+ArrowRight Home End + - Escape"
        style={{
          left: `${box.left}px`,
          top: `${box.top}px`,
          width: `${box.width}px`,
          height: `${box.height}px`,
        }}
        onKeyDown={onKey}
        onFocus={() => plot.point(here ?? null)}
        onBlur={() => plot.point(null)}
      />
      <Marks box={box} plot={plot} name={props.name} marks={marks} />
    </>
  )
}

/** The signs of a chart as a list of buttons over it; arrows go from one to the next. */
function Marks({
  box,
  plot,
  name,
  marks,
}: Pick<ChartKeysProps, 'box' | 'plot' | 'name' | 'marks'>) {
  const { from, to } = box.range
  const shown = marks
    .filter((mark) => mark.at >= from && mark.at <= to)
    .toSorted((a, b) => a.at - b.at)
  const [told, setTold] = useState<string | null>(null)
  const [current, setCurrent] = useState<string | null>(null)
  const list = useRef<HTMLUListElement>(null)
  const now = shown.find(({ id }) => id === told)
  const stop = shown.find(({ id }) => id === current)?.id ?? shown[0]?.id
  useEffect(() => {
    if (told !== null && now === undefined) setTold(null)
  }, [told, now])
  const near = useRef<(at: number | null) => string | null>(() => null)
  near.current = (at) =>
    at === null
      ? null
      : (shown.findLast((mark) => Math.abs(x(mark.at) - x(at)) <= NEAR_PX)?.id ?? null)
  // The pointer reads the signs it comes by; a drag that begins at one is the chart's all the same.
  useEffect(() => joinCursor({ follow: (at) => setTold(near.current(at)) }), [])
  const x = (at: number): number => box.left + ((at - from) / (to - from)) * box.width
  if (shown.length === 0) return null
  const go = (event: KeyboardEvent, place: number): void => {
    const step = cursorStep(event.key, { at: place, count: shown.length, shift: event.shiftKey })
    if (step === 'reset' && told !== null) setTold(null)
    else if (step !== null && step !== 'reset' && 'to' in step) {
      list.current?.querySelectorAll('button')[step.to]?.focus()
    } else return
    event.preventDefault()
  }
  return (
    <>
      <ul class="plot-marks" ref={list} aria-label={say`${name}: signs on the chart`}>
        {shown.map((mark, i) => (
          <li key={mark.id}>
            <button
              type="button"
              tabIndex={mark.id === stop ? 0 : -1}
              aria-label={mark.words}
              style={{
                left: `${x(mark.at)}px`,
                top: `${mark.edge === 'head' ? box.top + 6 : box.top + box.height - 26}px`,
              }}
              onFocus={() => {
                setCurrent(mark.id)
                setTold(mark.id)
                plot.point(mark.at)
              }}
              onBlur={() => setTold(null)}
              onClick={() => setTold(mark.id)}
              onKeyDown={(event) => go(event, i)}
            />
          </li>
        ))}
      </ul>
      {now !== undefined && (
        <p
          class="plot-told"
          aria-hidden="true"
          style={{
            ...(x(now.at) < box.left + box.width / 2
              ? { left: `${x(now.at)}px` }
              : { right: `calc(100% - ${x(now.at)}px)` }),
            top: `${now.edge === 'head' ? box.top + 32 : box.top + box.height - 62}px`,
          }}
        >
          {now.words}
        </p>
      )}
    </>
  )
}
