import { useEffect, useState } from 'preact/hooks'

/** The value once it has stood still for `ms`: what is fetched for a range that moves with a finger. */
export function useSettled<T>(value: T, ms: number): T {
  const [settled, setSettled] = useState(value)
  useEffect(() => {
    if (value === settled) return
    const timer = setTimeout(() => setSettled(() => value), ms)
    return () => clearTimeout(timer)
  }, [value, settled, ms])
  return settled
}
