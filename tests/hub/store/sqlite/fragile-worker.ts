import { HubError } from '#hub/errors.ts'
import { Parcel, serve } from '#hub/store/sqlite/serve.ts'

/** A worker that can be asked to fail in every way a worker can. */
function open(
  { file, refuse }: { file: string; refuse?: 'hub' | 'own' },
  emit: (e: unknown) => void,
) {
  if (refuse === 'hub')
    throw new HubError('HUB_STORE_UNAVAILABLE', `${file} is odd`, { retry: true })
  if (refuse === 'own') throw new RangeError('a slip')
  return {
    twice: (n: number): number => n * 2,
    later: async (n: number): Promise<number> => {
      await new Promise(setImmediate)
      return n
    },
    column: (n: number): Parcel<Float64Array> => {
      const column = new Float64Array(n).fill(n)
      return new Parcel(column, [column.buffer])
    },
    total: (column: Float64Array): number => column.reduce((a, b) => a + b, 0),
    tell: (what: string): void => {
      emit({ what })
    },
    world: (): never => {
      throw Object.assign(new Error('database or disk is full'), { errcode: 13 })
    },
    slip: (): never => {
      throw new RangeError('a slip')
    },
    never: (): Promise<never> => new Promise(() => {}),
    die: (): void => {
      setImmediate(() => {
        throw new Error('out of luck')
      })
    },
    leave: (): void => process.exit(3),
    close: (): void => {},
  }
}

export type FragileApi = ReturnType<typeof open>

serve(open)
