import { useEffect, useRef, useState } from 'preact/hooks'
import type { RefObject } from 'preact'

/** Whether an element is in sight, was before, or is no more than a screen away; for paper everything is. */
export function useNear<T extends Element>(): [RefObject<T | null>, boolean] {
  const place = useRef<T>(null)
  const [near, setNear] = useState(false)
  useEffect(() => {
    const element = place.current
    if (near || element === null) return
    const watch = new IntersectionObserver(
      (entries) => {
        if (entries.some(({ isIntersecting }) => isIntersecting)) setNear(true)
      },
      { rootMargin: '100% 0px' },
    )
    watch.observe(element)
    const print = (): void => setNear(true)
    window.addEventListener('beforeprint', print)
    return () => {
      watch.disconnect()
      window.removeEventListener('beforeprint', print)
    }
  }, [near])
  return [place, near]
}
