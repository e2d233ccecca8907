import type { Problem } from '../../hub/api/schemas/common.ts'
import { say } from './say.ts'

/** `/body/points/0/ph`, `body.points[0].ph` and `points.0.ph` are the same field. */
export function fieldPath(path: string): string {
  return path
    .replace(/\[(\d+)\]/g, '.$1')
    .split(/[./]/)
    .filter((part) => part !== '')
    .filter((part, i) => !(i === 0 && part === 'body'))
    .join('.')
}

/** What the hub says about one field, or about anything inside it. */
export function errorFor(problem: Problem | null, field: string): string | null {
  const said = (problem?.errors ?? [])
    .filter(({ path }) => {
      const at = fieldPath(path)
      return at === field || at.startsWith(`${field}.`)
    })
    .map(({ message }) => message)
  return said.length === 0 ? null : said.join('; ')
}

/** What is left to say above a form, once the fields named in `shown` carry their own errors. */
export function restOf(problem: Problem | null, shown: readonly string[]): string | null {
  if (problem === null) return null
  const rest = (problem.errors ?? []).filter(
    ({ path }) =>
      !shown.some(
        (field) => errorFor({ ...problem, errors: [{ path, message: '' }] }, field) !== null,
      ),
  )
  if ((problem.errors ?? []).length > 0 && rest.length === 0) {
    return say`Not saved: please look at the marked fields.`
  }
  const lines = rest.map(({ path, message }) =>
    fieldPath(path) === '' ? message : `${fieldPath(path)}: ${message}`,
  )
  return [problem.detail ?? problem.title, ...lines].join(' · ')
}
