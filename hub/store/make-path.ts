import { existsSync, mkdirSync } from 'node:fs'
import { dirname, resolve } from 'node:path'

/**
 * Makes a folder with those above it. Node's own way of doing that (`recursive`) tries for ever where a folder is there
 * and still nothing can be made in it, such as in /proc.
 *
 * @param mode of those that are made
 * @throws what the system says, also when there is a file of that name
 */
export function makePath(folder: string, mode?: number): void {
  const path = resolve(folder)
  const parent = dirname(path)
  if (parent !== path && !existsSync(parent)) makePath(parent, mode)
  try {
    mkdirSync(path, { mode })
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    // A file of that name shows when something is written into it.
    if (code !== 'EEXIST' && !(code === 'EROFS' && existsSync(path))) throw error
  }
}
