import { KEPT_AT, keptAs } from './worker/kept-as.ts'

/** About a season of lanes of fifty beds and what was looked at beside them. */
const MOST = 250

interface Kept {
  readonly text: string
  readonly at: number
}
const kept = new Map<string, Kept>()
/** When answers that were kept had come, by the object they were read into. */
const ages = new WeakMap<object, number>()

const nameOf = (path: string): string | null =>
  keptAs(new URL(`/api${path}`, location.origin), Date.now())

/** Keeps an answer of the hub for as long as the page is open. `headers` tell if it had been kept by the worker. */
export function keepAnswer(path: string, text: string, headers: Headers): number | null {
  const told = Number(headers.get(KEPT_AT) ?? Number.NaN)
  const name = nameOf(path)
  if (name !== null) {
    kept.delete(name)
    kept.set(name, { text, at: Number.isFinite(told) ? told : Date.now() })
    const [oldest] = kept.keys()
    if (kept.size > MOST && oldest !== undefined) kept.delete(oldest)
  }
  return Number.isFinite(told) ? told : null
}

/** All that is kept, for a worker that has just begun. */
export const allKept = (): {
  readonly name: string
  readonly text: string
  readonly at: number
}[] => [...kept].map(([name, answer]) => ({ name, ...answer }))

/** What the hub answered last; null when it was not asked since the page was opened. */
export function keptAnswer(path: string): Kept | null {
  const name = nameOf(path)
  return name === null ? null : (kept.get(name) ?? null)
}

let oldest: string | null = null
/** Notes where the hub's events stood when it was asked; other pages of the hub's life cannot be compared. */
export function noteLive(id: string | null): void {
  if (id === null) return
  const [run, number = ''] = id.split('-')
  const [oldRun, oldNumber = ''] = (oldest ?? id).split('-')
  oldest = run !== oldRun ? '' : Number(number) <= Number(oldNumber) ? id : oldest
}
/** The event from which on nothing of what was answered so far is missed; '' when there is no such. */
export const liveSince = (): string => oldest ?? ''

/** Notes that what was read out of a kept answer is of then, epoch ms. */
export function markAge<T>(answer: T, at: number | null): T {
  if (at !== null && typeof answer === 'object' && answer !== null) ages.set(answer, at)
  return answer
}

/** When an answer had come, epoch ms on the browser's clock; null when it is the hub's own of now. */
export const ageOf = (answer: unknown): number | null =>
  typeof answer === 'object' && answer !== null ? (ages.get(answer) ?? null) : null

/** Somebody else may sit at this browser now. */
export const forgetAnswers = (): void => kept.clear()
