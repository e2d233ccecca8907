import type uPlot from 'uplot'
import { dragged, pinched, zoomedAt } from './pinch.ts'
import type { Finger } from './pinch.ts'
import type { Range } from './range.ts'

export interface Gestures {
  readonly range: () => Range
  /** Whether there is something to go back to: then one finger moves the paper, else the cursor. */
  readonly isZoomed: () => boolean
  /** `first` is the beginning of a gesture, what follows belongs to it. */
  readonly onMove: (range: Range, first: boolean) => void
  readonly onReset: () => void
}

const DOUBLE_TAP_MS = 320
const TAP_PX = 12
/** Nothing is zoomed by a wheel's step by more than this. */
const WHEEL_STEP = 0.2

/**
 * Zoom and pan by touch, and by the wheel with a modifier. Up and down is always the page's own scrolling, which the
 * style sheet leaves to the browser (`touch-action: pan-y`).
 */
export function attachGestures(u: uPlot, gestures: Gestures): () => void {
  const { over } = u
  const fingers = new Map<number, Finger>()
  let begun: { readonly range: Range; readonly fingers: ReadonlyMap<number, Finger> } | null = null
  let moved = false
  let frame = 0
  let lastTap = { at: -Infinity, x: 0 }

  const place = (event: PointerEvent | WheelEvent): number =>
    event.clientX - over.getBoundingClientRect().left
  const begin = (): void => {
    begun = { range: gestures.range(), fingers: new Map(fingers) }
    moved = false
  }
  const apply = (): void => {
    frame = 0
    if (begun === null) return
    const ids = [...begun.fingers.keys()].filter((id) => fingers.has(id))
    const [a, b] = ids.map((id) => [begun?.fingers.get(id), fingers.get(id)] as const)
    const width = over.clientWidth
    let next: Range | null = null
    if (a?.[0] && a[1] && b?.[0] && b[1]) {
      next = pinched(begun.range, width, [a[0], b[0]], [a[1], b[1]])
    } else if (a?.[0] && a[1] && gestures.isZoomed()) {
      next = dragged(begun.range, width, a[0], a[1])
    } else if (a?.[1]) {
      u.setCursor({ left: Math.min(width - 1, Math.max(0, a[1].x)), top: 10 })
    }
    if (next === null) return
    gestures.onMove(next, !moved)
    moved = true
  }
  const down = (event: PointerEvent): void => {
    if (event.pointerType === 'mouse') return
    fingers.set(event.pointerId, { x: place(event) })
    begin()
  }
  const move = (event: PointerEvent): void => {
    if (!fingers.has(event.pointerId)) return
    fingers.set(event.pointerId, { x: place(event) })
    if (frame === 0) frame = requestAnimationFrame(apply)
  }
  const up = (event: PointerEvent): void => {
    const finger = fingers.get(event.pointerId)
    const before = begun?.fingers.get(event.pointerId)
    if (finger === undefined) return
    const alone = fingers.size === 1
    fingers.delete(event.pointerId)
    const still = before !== undefined && Math.abs(before.x - finger.x) < TAP_PX
    if (event.type === 'pointerup' && alone && still && !moved) {
      const again = event.timeStamp - lastTap.at < DOUBLE_TAP_MS
      if (again && Math.abs(lastTap.x - finger.x) < 2 * TAP_PX) {
        lastTap = { at: -Infinity, x: 0 }
        gestures.onReset()
      } else lastTap = { at: event.timeStamp, x: finger.x }
    }
    if (fingers.size > 0) begin()
    else begun = null
  }
  const wheel = (event: WheelEvent): void => {
    const zooms = event.ctrlKey || event.metaKey
    if (!zooms && !(event.shiftKey && gestures.isZoomed())) return
    event.preventDefault()
    const width = over.clientWidth
    const range = gestures.range()
    // With shift some browsers turn the wheel sideways themselves.
    const turn = Math.sign(event.deltaY === 0 ? event.deltaX : event.deltaY)
    gestures.onMove(
      zooms
        ? zoomedAt(range, width, place(event), turn > 0 ? 1 + WHEEL_STEP : 1 / (1 + WHEEL_STEP))
        : dragged(range, width, { x: turn * width * 0.1 }, { x: 0 }),
      !gestures.isZoomed(),
    )
  }
  const listeners = { pointerdown: down, pointermove: move, pointerup: up, pointercancel: up }
  for (const [name, listener] of Object.entries(listeners)) {
    over.addEventListener(name, listener as EventListener)
  }
  over.addEventListener('wheel', wheel, { passive: false })
  return () => {
    cancelAnimationFrame(frame)
    for (const [name, listener] of Object.entries(listeners)) {
      over.removeEventListener(name, listener as EventListener)
    }
    over.removeEventListener('wheel', wheel)
  }
}
