import type { Document, Operation, Parameter } from '../../../../hub/api/open-api/document.ts'

/** One thing that can be asked of the hub. */
export interface Asking {
  readonly id: string
  readonly method: string
  readonly path: string
  readonly tag: string
  readonly operation: Operation
  /** Small letters, to be searched. */
  readonly text: string
}

/** Everything that can be asked, by group in the order of the document. */
export function askings(document: Document): readonly Asking[] {
  const all = Object.entries(document.paths).flatMap(([path, item]) =>
    Object.entries(item).map(([method, operation]): Asking => ({
      id: operation.operationId ?? `${method}${path}`,
      method: method.toUpperCase(),
      path,
      tag: operation.tags?.[0] ?? '',
      operation,
      text: [method, path, operation.summary, operation.description, operation.tags?.[0]]
        .join(' ')
        .toLowerCase(),
    })),
  )
  const order = (document.tags ?? []).map(({ name }) => name)
  return all.toSorted((a, b) => order.indexOf(a.tag) - order.indexOf(b.tag))
}

/** Those in which every word of a search stands. */
export function found(all: readonly Asking[], search: string): readonly Asking[] {
  const words = search
    .toLowerCase()
    .split(/\s+/)
    .filter((word) => word !== '')
  return all.filter(({ text }) => words.every((word) => text.includes(word)))
}

/** Within single quotes of a POSIX shell. */
const quoted = (text: string): string => `'${text.replaceAll("'", String.raw`'\''`)}'`

const isAsked = ({ in: place, required }: Parameter): boolean =>
  place === 'query' && required === true

/** A command line that asks it of the hub at `origin`; what is to be filled in stands in braces. */
export function curlLine({ method, path, operation }: Asking, origin: string): string {
  const query = (operation.parameters ?? []).filter(isAsked).map(({ name }) => `${name}={${name}}`)
  const url = origin + path + (query.length === 0 ? '' : `?${query.join('&')}`)
  const parts = ['curl', ...(method === 'GET' ? [] : ['-X', method])]
  if ((operation.security ?? []).length > 0) {
    parts.push('-H', quoted('Authorization: Bearer {token}'))
  }
  const [type, media] = Object.entries(operation.requestBody?.content ?? {})[0] ?? []
  if (type !== undefined) {
    parts.push('-H', quoted(`Content-Type: ${type}`))
    if (type !== 'application/json') parts.push('--data-binary', '@{file}')
    else
      parts.push('-d', quoted(media?.example === undefined ? '{…}' : JSON.stringify(media.example)))
  }
  return [...parts, quoted(url)].join(' ')
}
