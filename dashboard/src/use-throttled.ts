import { useEffect, useRef, useState } from 'preact/hooks'

/** Counts up with `tick`, but at most once in `everyMs`, and not while the page is hidden. */
export function useThrottled(tick: number, everyMs: number): number {
  const [shown, setShown] = useState(tick)
  const last = useRef(0)
  useEffect(() => {
    if (tick === shown) return
    let timer: ReturnType<typeof setTimeout> | undefined
    const later = (): void => {
      clearTimeout(timer)
      if (document.hidden) return
      timer = setTimeout(
        () => {
          last.current = Date.now()
          setShown(tick)
        },
        Math.max(0, last.current + everyMs - Date.now()),
      )
    }
    later()
    document.addEventListener('visibilitychange', later)
    return () => {
      clearTimeout(timer)
      document.removeEventListener('visibilitychange', later)
    }
  }, [tick, shown, everyMs])
  return shown
}
