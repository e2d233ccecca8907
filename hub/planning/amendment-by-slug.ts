import { type Amendment, AMENDMENTS } from '../agronomy/amendments.ts'

const bySlug = new Map(AMENDMENTS.map((row) => [row.slug, row]))

/** The row of the table of amendments. A slug that is not in it is a mistake of ours. */
export function amendmentBySlug(slug: string): Amendment {
  const row = bySlug.get(slug)
  if (row === undefined) throw new Error(`no material '${slug}' in the table of amendments`)
  return row
}
