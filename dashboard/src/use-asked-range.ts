import { useCallback, useEffect, useState } from 'preact/hooks'
import { askedRange, rangeSearch } from './chart/range-address.ts'
import type { Range, RangeName } from './chart/range.ts'

/** Addresses are written when a movement has come to rest. */
const REST_MS = 300

export interface AskedRangeState {
  readonly name: RangeName
  /** The stretch that was zoomed to; undefined: the named one. */
  readonly zoom: Range | undefined
  readonly setName: (name: RangeName) => void
  /** Zooms; `goesOn`: it belongs to the movement of the zoom before, and one step back undoes both. */
  readonly onRange: (range: Range, goesOn?: boolean) => void
  /** One zoom back. */
  readonly onBack: () => void
  /** All zooms back. */
  readonly reset: () => void
}

/** The stretch of time the charts of a page show; it stands in the address, so that it can be kept and sent. */
export function useAskedRange(zone: string): AskedRangeState {
  const [asked] = useState(() => askedRange(location.search, zone))
  const [name, setName] = useState<RangeName>(asked.name)
  const [zooms, setZooms] = useState<readonly Range[]>(asked.zoom === null ? [] : [asked.zoom])
  const zoom = zooms.at(-1)
  useEffect(() => {
    const timer = setTimeout(() => {
      const search = rangeSearch({ name, zoom: zoom ?? null }, zone)
      if (location.search !== search) {
        history.replaceState(null, '', `${location.pathname}${search}${location.hash}`)
      }
    }, REST_MS)
    return () => clearTimeout(timer)
  }, [name, zoom, zone])
  const onRange = useCallback(
    (next: Range, goesOn = false) =>
      setZooms((old) => [...(goesOn ? old.slice(0, -1) : old), next]),
    [],
  )
  const onBack = useCallback(() => setZooms((old) => old.slice(0, -1)), [])
  const reset = useCallback(() => setZooms([]), [])
  return { name, zoom, setName, onRange, onBack, reset }
}
