interface Modules {
  getModuleInfo(
    id: string,
  ): { readonly isEntry: boolean; readonly importers: readonly string[] } | null
}

/**
 * Puts what the first page needs into one file. Left alone, the bundler makes a small file of everything that a later
 * page shares with the first, and a phone fetches two dozen of them one after the other.
 */
export function firstChunk(): (id: string, modules: Modules) => string | null {
  const known = new Map<string, boolean>()
  function isFirst(id: string, modules: Modules): boolean {
    const answer = known.get(id)
    if (answer !== undefined) return answer
    // Modules may import each other in a ring.
    known.set(id, false)
    const info = modules.getModuleInfo(id)
    const first =
      info !== null &&
      (info.isEntry || info.importers.some((importer) => isFirst(importer, modules)))
    known.set(id, first)
    return first
  }
  return (id, modules) => (isFirst(id, modules) ? 'first' : null)
}
