import { sourceById } from '../../agronomy/sources.ts'
import type { SourceView } from '../schemas/planning.ts'

/** What is recalled or worked out here has no publication. */
const NO_PUBLICATION = new Set(['MEM', 'CALC'])

/** The publications behind something, each once; none for common practice. */
export function sourceViews(ids: readonly string[]): SourceView[] {
  return Array.from(new Set(ids))
    .filter((id) => !NO_PUBLICATION.has(id))
    .map(sourceView)
}

/** One publication; null for common practice. */
export function sourceOrNull(id: string): SourceView | null {
  return NO_PUBLICATION.has(id) ? null : sourceView(id)
}

function sourceView(id: string): SourceView {
  const { publisher, title, year, url, seen } = sourceById(id)
  return { id, publisher, title, year, url, seen }
}
