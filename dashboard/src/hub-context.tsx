import { createContext } from 'preact'
import type { ComponentChildren } from 'preact'
import {
  useCallback,
  useContext,
  useEffect,
  useMemo,
  useReducer,
  useRef,
  useState,
} from 'preact/hooks'
import type { Problem } from '../../hub/api/schemas/common.ts'
import type { Language } from '../../hub/model/language.ts'
import { problemOf } from './ask.ts'
import { firstApi } from './first-api.ts'
import { EMPTY, hubReducer } from './hub-state.ts'
import type { Fetched, HubState } from './hub-state.ts'
import { ageOf, liveSince } from './kept-answers.ts'
import { listen } from './live.ts'
import { language, say, speak } from './say.ts'
import { sendWaiting } from './use-waiting.ts'

type Part = 'garden' | 'beds' | 'probes' | 'health'
const ALL: readonly Part[] = ['garden', 'beds', 'probes', 'health']
const RETRY_MS = 5000
const PROBES_AT_MOST_EVERY_MS = 2000

/** What is wrong when the texts of a language cannot be fetched; null when the pages speak it. */
async function speakAs(wanted: Language): Promise<Problem | null> {
  if (wanted === language()) return null
  try {
    await speak(wanted)
    return null
  } catch {
    return {
      type: 'about:blank',
      title: say`The texts of the language cannot be fetched`,
      status: 0,
    }
  }
}

export interface Hub extends HubState {
  /** Fetches some parts again; all when none is named. */
  readonly refresh: (...parts: Part[]) => Promise<void>
}

const HubContext = createContext<Hub>({ ...EMPTY, refresh: () => Promise.resolve() })
export const useHub = (): Hub => useContext(HubContext)

/** Holds what the pages share, and keeps it in step with the hub. */
export function HubProvider({ children }: { children: ComponentChildren }) {
  const [state, dispatch] = useReducer(hubReducer, EMPTY)
  const refresh = useCallback(async (...parts: Part[]): Promise<void> => {
    const wanted = parts.length === 0 ? ALL : parts
    try {
      const pairs = await Promise.all(
        wanted.map(async (part) => [part, await firstApi[part]()] as const),
      )
      const what: Fetched = Object.fromEntries(pairs)
      const mute = await speakAs(what.garden?.language ?? language())
      const cameAt = (answer: unknown): number => ageOf(answer) ?? Date.now()
      const at = Math.min(...Object.values(what).map(cameAt))
      dispatch({ type: 'fetched', what, at, healthAt: cameAt(what.health) })
      if (mute !== null) dispatch({ type: 'failed', problem: mute })
    } catch (error) {
      const problem = problemOf(error)
      if (problem !== null) dispatch({ type: 'failed', problem })
    }
  }, [])

  useEffect(() => {
    let probesTimer: ReturnType<typeof setTimeout> | undefined
    let probesAt = 0
    // The first of many comes through at once, the rest in bundles.
    const probesSoon = (): void => {
      probesTimer ??= setTimeout(
        () => {
          probesTimer = undefined
          probesAt = Date.now()
          void refresh('probes')
        },
        Math.max(0, probesAt + PROBES_AT_MOST_EVERY_MS - Date.now()),
      )
    }
    let stop = (): void => undefined
    let over = false
    const begin = (): void => {
      if (over) return
      stop = listen(liveSince(), {
        onEvent: (event) => {
          dispatch({ type: 'live', event, at: Date.now() })
          if (event.event === 'beds') void refresh('beds', 'garden')
          if (event.event === 'probes') probesSoon()
        },
        onState: (connection) => {
          dispatch({ type: 'connection', state: connection, at: Date.now() })
          if (connection === 'open') void sendWaiting()
        },
        onReset: () => {
          dispatch({ type: 'reset' })
          void refresh()
        },
      })
    }
    // The events are heard from where they stood when the first answers were made: nothing is fetched twice.
    void refresh().then(begin)
    return () => {
      over = true
      stop()
      clearTimeout(probesTimer)
    }
  }, [refresh])

  const failing = state.problem !== null
  useEffect(() => {
    if (!failing) return
    const timer = setInterval(() => void refresh(), RETRY_MS)
    return () => clearInterval(timer)
  }, [failing, refresh])

  const hub = useMemo(() => ({ ...state, refresh }), [state, refresh])
  return <HubContext.Provider value={hub}>{children}</HubContext.Provider>
}

/** Now on the hub's clock, renewed every few seconds. */
export function useNow(everyMs = 10_000): number {
  const { aheadMs } = useHub()
  const [now, setNow] = useState(Date.now)
  useEffect(() => {
    const timer = setInterval(() => setNow(Date.now()), everyMs)
    return () => clearInterval(timer)
  }, [everyMs])
  return now + aheadMs
}

export interface Loaded<T> {
  readonly data: T | null
  readonly problem: Problem | null
  readonly reload: () => void
}

/**
 * Fetches, and fetches again when `key` changes; the answer before stays up meanwhile. With `keep` false
 * it goes as soon as the key changes. An answer that came too late is dropped.
 */
export function useLoad<T>(
  key: string | null,
  fetcher: (signal: AbortSignal) => Promise<T>,
  tick: number | string = 0,
): Loaded<T> {
  const [state, setState] = useState<{
    key: string | null
    data: T | null
    problem: Problem | null
  }>({
    key: null,
    data: null,
    problem: null,
  })
  const [again, setAgain] = useState(0)
  const latest = useRef(fetcher)
  latest.current = fetcher
  useEffect(() => {
    if (key === null) return
    const abort = new AbortController()
    latest.current(abort.signal).then(
      (data) => {
        if (!abort.signal.aborted) setState({ key, data, problem: null })
      },
      (error: unknown) => {
        const problem = abort.signal.aborted ? null : problemOf(error)
        if (problem !== null) setState((old) => ({ ...old, key, problem }))
      },
    )
    return () => abort.abort()
  }, [key, tick, again])
  const reload = useCallback(() => setAgain((n) => n + 1), [])
  return { data: state.data, problem: state.problem, reload }
}
