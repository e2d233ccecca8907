import { globSync, readFileSync } from 'node:fs'
import { parseSync } from 'vite'

interface Node {
  readonly type: string
  readonly [member: string]: unknown
}

/** A text of the sources that belongs in the catalogue. */
export interface Text {
  readonly file: string
  readonly source: string
}

const isNode = (value: unknown): value is Node =>
  typeof value === 'object' && value !== null && typeof (value as Node).type === 'string'

function visit(value: unknown, found: (node: Node) => void): void {
  if (Array.isArray(value)) for (const item of value) visit(item, found)
  else if (isNode(value)) {
    found(value)
    for (const [name, member] of Object.entries(value)) if (name !== 'parent') visit(member, found)
  }
}

interface Quasi {
  readonly value: { readonly cooked: string }
}

/** Every template tagged with `say` and every string marked with `toSay`, in files that match the globs. */
export function textsOf(...globs: readonly string[]): Text[] {
  const texts: Text[] = []
  for (const file of globSync([...globs]).toSorted()) {
    const { program, errors } = parseSync(file, readFileSync(file, 'utf8'))
    if (errors.length > 0) throw new Error(`${file}: ${errors[0]!.message}`)
    visit(program, (node) => {
      if (node.type === 'TaggedTemplateExpression' && (node['tag'] as Node)['name'] === 'say') {
        const { quasis } = node['quasi'] as { readonly quasis: readonly Quasi[] }
        const source = quasis
          .map(({ value }) => value.cooked)
          .reduce((text, part, i) => `${text}{${i - 1}}${part}`)
        texts.push({ file, source })
      }
      if (node.type === 'CallExpression' && (node['callee'] as Node)['name'] === 'toSay') {
        const [first] = node['arguments'] as readonly Node[]
        if (first?.type !== 'Literal' || typeof first['value'] !== 'string') {
          throw new Error(`${file}: toSay needs a plain string, so that it can be found`)
        }
        texts.push({ file, source: first['value'] })
      }
    })
  }
  return texts
}

/** The catalogue files below a folder, merged: English text to its translation. */
export function translationsIn(folder: string): Map<string, string> {
  const merged = new Map<string, string>()
  for (const file of globSync(`${folder}/*.json`).toSorted()) {
    for (const [source, text] of Object.entries(
      JSON.parse(readFileSync(file, 'utf8')) as Record<string, string>,
    )) {
      const before = merged.get(source)
      if (before !== undefined && before !== text) {
        throw new Error(`${file}: '${source}' is '${before}' in another file`)
      }
      merged.set(source, text)
    }
  }
  return merged
}

/** The numbered holes of a text, in order of their numbers. */
export const holesOf = (text: string): string =>
  Array.from(text.matchAll(/\{(\d+)\}/g), ([, n]) => n)
    .toSorted((a, b) => Number(a) - Number(b))
    .join()
