import { useEffect, useRef, useState } from 'preact/hooks'

/** State that outlives a locked phone or a reload, on this device, until it is forgotten. */
export function useKept<T>(
  key: string,
  initial: T,
): [value: T, set: (value: T) => void, forget: () => void] {
  const [value, setValue] = useState<T>(() => {
    try {
      const text = localStorage.getItem(key)
      return text === null ? initial : { ...initial, ...(JSON.parse(text) as T) }
    } catch {
      // Storage is switched off, or holds something else: begin anew.
      return initial
    }
  })
  const forgotten = useRef(false)
  useEffect(() => {
    if (forgotten.current) return
    try {
      localStorage.setItem(key, JSON.stringify(value))
    } catch {
      // Without storage the page still works until it is closed.
    }
  }, [key, value])
  const forget = (): void => {
    forgotten.current = true
    try {
      localStorage.removeItem(key)
    } catch {
      // Nothing was kept.
    }
  }
  return [value, setValue, forget]
}
