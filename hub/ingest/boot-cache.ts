import type { BootMemory } from '../store/reading-store.ts'
import { openBoot } from './boot-book.ts'
import type { Boot } from './boot-book.ts'

/** Boots kept in memory; others are recalled from the store when they speak again. */
const BOOTS_IN_MEMORY = 4000

export interface BootCache {
  /** One that is in memory, or null. */
  get(probe: string, boot: number): Boot | null
  /** One from memory or, failing that, from the store. */
  open(probe: string, boot: number): Promise<Boot>
  /** Lets go of boots that have not been used for longest, except those that are `needed`. */
  trim(needed: (boot: Boot) => boolean): void
  clear(): void
}

export function createBootCache(
  recall: (probe: string, boot: number) => Promise<BootMemory>,
): BootCache {
  const boots = new Map<string, Boot>()
  /** Nearly every message is of the boot that its probe used last. */
  const last = new Map<string, Boot>()
  const nameOf = (probe: string, boot: number): string => `${probe}/${boot}`

  function get(probe: string, boot: number): Boot | null {
    let found = last.get(probe)
    if (found === undefined || found.boot !== boot) {
      found = boots.get(nameOf(probe, boot))
      if (found === undefined) return null
      last.set(probe, found)
    }
    found.used = true
    return found
  }

  return {
    get,
    async open(probe, boot) {
      const known = get(probe, boot)
      if (known !== null) return known
      const opened = openBoot(probe, boot, await recall(probe, boot))
      boots.set(nameOf(probe, boot), opened)
      last.set(probe, opened)
      opened.used = true
      return opened
    },
    trim(needed) {
      // The oldest entries of a Map come first; one that was used since gets a second chance at the end.
      let looks = boots.size
      for (const [name, boot] of boots) {
        if (boots.size <= BOOTS_IN_MEMORY || looks-- === 0) return
        boots.delete(name)
        const stays = boot.used || needed(boot)
        boot.used = false
        if (stays) boots.set(name, boot)
        else if (last.get(boot.probe) === boot) last.delete(boot.probe)
      }
    },
    clear() {
      boots.clear()
      last.clear()
    },
  }
}
