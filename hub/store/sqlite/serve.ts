import { parentPort, workerData } from 'node:worker_threads'
import type { Transferable } from 'node:worker_threads'
import { storeError, toFault } from './fault.ts'
import type { Fault } from './fault.ts'

/** What a worker offers: named functions, synchronous or not. */
export type Handlers = Readonly<Record<string, (...args: never[]) => unknown>>

export interface Request {
  readonly id: number
  readonly method: string
  readonly args: unknown[]
}
export type Reply =
  | { readonly kind: 'ready' }
  | { readonly kind: 'refused'; readonly fault: Fault }
  | { readonly kind: 'value'; readonly id: number; readonly value: unknown }
  | { readonly kind: 'fault'; readonly id: number; readonly fault: Fault }
  | { readonly kind: 'event'; readonly event: unknown }

/** A result whose buffers move to the caller instead of being copied. */
export class Parcel<T> {
  readonly value: T
  readonly transfer: Transferable[]

  constructor(value: T, transfer: Transferable[]) {
    this.value = value
    this.transfer = transfer
  }
}

/**
 * Worker side: opens with the data the thread was started with, then answers calls in the order they
 * came. `file` names the database in messages.
 */
export function serve<Data extends { readonly file: string }>(
  open: (data: Data, emit: (event: unknown) => void) => Handlers,
): void {
  const port = parentPort
  if (port === null) throw new Error('serve() belongs in a worker thread')
  const data = workerData as Data
  const reply = (message: Reply, transfer: Transferable[] = []): void =>
    port.postMessage(message, transfer)

  let handlers: Handlers
  try {
    handlers = open(data, (event) => reply({ kind: 'event', event }))
  } catch (error) {
    reply({ kind: 'refused', fault: toFault(storeError(error, data.file)) })
    return
  }
  port.on('message', ({ id, method, args }: Request) => {
    const answer = async (): Promise<void> => {
      const handler = handlers[method] as ((...args: unknown[]) => unknown) | undefined
      if (handler === undefined) throw new Error(`no such call: ${method}`)
      const made = handler(...args)
      // Awaiting a plain value would let the next message overtake this answer.
      const result = made instanceof Promise ? await made : made
      if (result instanceof Parcel)
        reply({ kind: 'value', id, value: result.value }, result.transfer)
      else reply({ kind: 'value', id, value: result })
    }
    answer().catch((error: unknown) =>
      reply({ kind: 'fault', id, fault: toFault(storeError(error, data.file)) }),
    )
  })
  reply({ kind: 'ready' })
}
