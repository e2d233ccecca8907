import type { Problem } from '../../hub/api/schemas/common.ts'
import { forgetAnswers, keepAnswer, keptAnswer, markAge, noteLive } from './kept-answers.ts'
import { say } from './say.ts'
import { noteSignedOut } from './who.ts'

/** The hub's answer when it could not do what was asked, or that it could not be reached. */
export class ApiError extends Error {
  override readonly name = 'ApiError'
  readonly problem: Problem

  constructor(problem: Problem, cause?: unknown) {
    super(problem.detail ?? problem.title, cause === undefined ? undefined : { cause })
    this.problem = problem
  }
}

function isProblem(value: unknown): value is Problem {
  return typeof value === 'object' && value !== null && 'title' in value && 'status' in value
}

interface Asked {
  readonly method?: 'GET' | 'POST' | 'PUT' | 'DELETE'
  /** Sent as JSON; a picture as it is. */
  readonly body?: unknown
  readonly signal?: AbortSignal | undefined
  /** A key of our own: what is sent with it a second time is stored once. */
  readonly once?: string
}
/** Whoever signs in or out leaves nothing for the next one at this browser. */
const WHO = /^\/(sign-in|sign-out|owner|password)$/

/** How something is sent that must be stored once. */
export type Sending = Pick<Asked, 'once' | 'signal'>

const typeOf = (body: unknown): string => (body instanceof Blob ? body.type : 'application/json')

/** Asks the hub; what it answers, marked with its age where it was kept from before. @throws ApiError */
export async function ask<T>(path: string, asked: Asked = {}): Promise<T> {
  const { method = 'GET', body, signal, once } = asked
  if (WHO.test(path) && method !== 'GET') forgetAnswers()
  let response: Response
  try {
    response = await fetch(`/api${path}`, {
      method,
      headers: {
        ...(body === undefined ? {} : { 'content-type': typeOf(body) }),
        ...(once === undefined ? {} : { 'idempotency-key': `"${once}"` }),
      },
      body: body === undefined || body instanceof Blob ? (body ?? null) : JSON.stringify(body),
      signal: signal ?? null,
    })
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') throw error
    const old = method === 'GET' ? keptAnswer(path) : null
    if (old !== null) return markAge(JSON.parse(old.text) as T, old.at)
    const problem = { type: 'about:blank', title: say`The hub cannot be reached`, status: 0 }
    throw new ApiError(problem, error)
  }
  const text = await response.text()
  let answer: unknown = null
  try {
    answer = text === '' ? null : JSON.parse(text)
  } catch (error) {
    const title = say`The hub answered ${response.status} with something that is not JSON`
    throw new ApiError({ type: 'about:blank', title, status: response.status }, error)
  }
  if (response.ok) {
    noteLive(response.headers.get('loamline-live'))
    const at = method === 'GET' ? keepAnswer(path, text, response.headers) : null
    return markAge(answer as T, at)
  }
  if (response.status === 401) {
    forgetAnswers()
    if (!WHO.test(path)) noteSignedOut()
  }
  const title = say`The hub answered ${response.status} ${response.statusText}`
  throw new ApiError(
    isProblem(answer) ? answer : { type: 'about:blank', title, status: response.status },
  )
}

/** What is asked for, behind the address. */
export const query = (of: Record<string, string | number | boolean | undefined>): string => {
  const search = new URLSearchParams()
  for (const [key, value] of Object.entries(of)) {
    if (value !== undefined) search.set(key, String(value))
  }
  const text = search.toString()
  return text === '' ? '' : `?${text}`
}

/** A problem for whatever was thrown; null when the asker gave up by itself. */
export function problemOf(error: unknown): Problem | null {
  if (error instanceof ApiError) return error.problem
  if (error instanceof DOMException && error.name === 'AbortError') return null
  throw error
}
