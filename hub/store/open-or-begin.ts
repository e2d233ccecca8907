import { join } from 'node:path'
import { HubError } from '../errors.ts'
import { damageOf, setAside } from './set-aside.ts'

/**
 * Opens a database; one that is damaged is moved aside with all it holds, told, and begun anew. Only for what can be
 * gone on without.
 */
export async function openOrBegin<T>(
  folder: string,
  name: string,
  open: (file: string) => Promise<T>,
  options: { readonly putAside: boolean; readonly onTrouble: (error: HubError) => void },
): Promise<T> {
  const file = join(folder, name)
  if (!options.putAside) return open(file)
  const aside = (damage: string): Promise<T> => {
    const { folder: where } = setAside(folder, name, Date.now())
    options.onTrouble(
      new HubError(
        'HUB_STORE_UNAVAILABLE',
        `${file} is damaged (${damage}). It was put aside, as it is, in ${where}, and a new one was begun.`,
        { retry: false },
      ),
    )
    return open(file)
  }
  const known = await damageOf(file)
  if (known !== null) return aside(known)
  try {
    return await open(file)
  } catch (error) {
    const found = error instanceof HubError && !error.retry ? await damageOf(file, true) : null
    if (found === null) throw error
    return aside(found)
  }
}
