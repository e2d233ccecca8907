import { HubError } from '../../errors.ts'
import type { ErrorCode } from '../../errors.ts'

/** An error on its way between threads. */
export type Fault =
  | {
      readonly kind: 'world'
      readonly code: ErrorCode
      readonly message: string
      readonly retry: boolean
    }
  | { readonly kind: 'own'; readonly message: string; readonly stack: string }

/**
 * SQLite primary result codes that blame the world around the hub (https://sqlite.org/rescode.html), and
 * whether trying again can help.
 */
const WORLD: Readonly<Record<number, { says: string; retry: boolean }>> = {
  3: { says: 'access is not permitted', retry: true },
  5: { says: 'another process holds it', retry: true },
  6: { says: 'it is locked', retry: true },
  7: { says: 'the machine is out of memory', retry: true },
  8: { says: 'it cannot be written', retry: true },
  10: { says: 'the disk reports an error', retry: true },
  11: { says: 'its content is damaged', retry: false },
  13: { says: 'the disk is full', retry: true },
  14: { says: 'it cannot be opened', retry: true },
  26: { says: 'it is not a database', retry: false },
}

/** The HubError behind a failed database call; anything else is our own mistake and comes back as it is. */
export function storeError(error: unknown, file: string): Error {
  if (!(error instanceof Error)) return new Error(String(error))
  const { errcode } = error as { errcode?: unknown }
  const cause = typeof errcode === 'number' ? WORLD[errcode & 0xff] : undefined
  if (cause === undefined) return error
  return new HubError('HUB_STORE_UNAVAILABLE', `${file}: ${cause.says} (${error.message}).`, {
    retry: cause.retry,
    cause: error,
  })
}

export function toFault(error: Error): Fault {
  return error instanceof HubError
    ? { kind: 'world', code: error.code, message: error.message, retry: error.retry }
    : { kind: 'own', message: error.message, stack: error.stack ?? '' }
}

export function fromFault(fault: Fault): Error {
  if (fault.kind === 'world') {
    return new HubError(fault.code, fault.message, { retry: fault.retry })
  }
  const error = new Error(fault.message)
  error.stack = fault.stack
  return error
}
