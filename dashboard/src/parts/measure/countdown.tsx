import { useEffect, useState } from 'preact/hooks'
import { say } from '../../say.ts'

const clock = (seconds: number): string =>
  `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`

/** A timer for a step that waits; it counts by the clock, so a locked phone does not stop it. */
export function Countdown({ seconds }: { seconds: number }) {
  const [endsAt, setEndsAt] = useState<number | null>(null)
  const [now, setNow] = useState(Date.now)
  const left = endsAt === null ? seconds : Math.max(0, Math.ceil((endsAt - now) / 1000))
  const running = endsAt !== null && left > 0
  const over = endsAt !== null && left === 0
  useEffect(() => {
    if (!running) return
    const timer = setInterval(() => setNow(Date.now()), 250)
    return () => clearInterval(timer)
  }, [running])
  useEffect(() => {
    if (over && 'vibrate' in navigator) navigator.vibrate(400)
  }, [over])
  return (
    <span class="countdown">
      <span role="timer" class={over ? 'over' : ''}>
        {clock(left)}
      </span>
      <button
        type="button"
        onClick={() => {
          setNow(Date.now())
          setEndsAt(Date.now() + seconds * 1000)
        }}
      >
        {endsAt === null ? say`Start the timer` : say`Start it again`}
      </button>
      <span aria-live="polite">{over && say`Time is up: read it.`}</span>
    </span>
  )
}
