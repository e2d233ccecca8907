import { inflateSync } from 'node:zlib'

/** What can be read in a PDF as Chromium writes it. */
export interface ReadPdf {
  /** Width and height of each page, points. */
  readonly sizes: readonly (readonly [number, number])[]
  /** Headings in order, with the page they are on, from 0. */
  readonly outline: readonly { readonly title: string; readonly page: number }[]
  /** The text of each page in the order it was drawn, without white space: lines may break anywhere. */
  readonly text: readonly string[]
}

/**
 * Reads pages, headings and text of a PDF. It knows as much of ISO 32000 as Chromium's writer uses: plain objects,
 * deflated streams, text as glyph numbers with a ToUnicode map (sections 7.3, 9.10.3, 12.3.3).
 */
export function readPdf(bytes: Buffer): ReadPdf {
  const whole = bytes.toString('latin1')
  const objects = new Map<string, { head: string; stream: () => string }>()
  for (const match of whole.matchAll(/(\d+) 0 obj\n([\s\S]*?)(?=\nendobj|>> stream\n)/g)) {
    const [, id = '', head = ''] = match
    const start = match.index + match[0].length + '>> stream\n'.length
    const length = Number(/\/Length (\d+)/.exec(head)?.[1] ?? 0)
    objects.set(id, {
      head,
      stream: () => inflateSync(bytes.subarray(start, start + length)).toString('latin1'),
    })
  }
  const object = (id: string | undefined): { head: string; stream: () => string } => {
    const found = objects.get(id ?? '')
    if (found === undefined) throw new Error(`the PDF has no object ${String(id)}`)
    return found
  }
  // Pages hang on a tree; its root is the branch without a parent.
  const pagesUnder = (id: string): string[] => {
    const { head } = object(id)
    const kids = /\/Kids \[([^\]]*)\]/.exec(head)?.[1]
    if (kids === undefined) return [id]
    return Array.from(kids.matchAll(/(\d+) 0 R/g), ([, kid = '']) => kid).flatMap(pagesUnder)
  }
  const all = pagesUnder(/\/Type \/Catalog\n\/Pages (\d+) 0 R/.exec(whole)?.[1] ?? '')
  return {
    sizes: all.map((id) => {
      const [, width, height] = /\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/.exec(object(id).head) ?? []
      return [Math.floor(Number(width)), Math.floor(Number(height))]
    }),
    outline: outlineOf(whole).map(({ title, page }) => ({ title, page: all.indexOf(page) })),
    text: all.map((id) => {
      const { head } = object(id)
      const fonts = new Map(
        Array.from(head.matchAll(/\/(F\d+) (\d+) 0 R/g), ([, name = '', font]) => {
          const map = /\/ToUnicode (\d+) 0 R/.exec(object(font).head)?.[1]
          return [
            name,
            map === undefined ? new Map<number, string>() : unicodeOf(object(map).stream()),
          ]
        }),
      )
      return textOf(object(/\/Contents (\d+) 0 R/.exec(head)?.[1]).stream(), fonts)
    }),
  }
}

/** Titles with the object of their page, in the order of the document: by page, from top to bottom. */
function outlineOf(whole: string): { title: string; page: string }[] {
  const entry =
    /<<\/Title (?:\(((?:\\.|[^\\)])*)\)|<([0-9A-F]+)>)\n\/Dest \[(\d+) 0 R \/XYZ [\d.-]+ ([\d.-]+) /g
  return Array.from(whole.matchAll(entry), ([, plain, hex, page = '', y]) => ({
    // A heading that was moved to a fresh page stands twice in its own title.
    title: (hex === undefined
      ? (plain ?? '').replace(/\\(.)/g, '$1')
      : utf16(hex.slice(4))
    ).replace(/^(.+)\1$/, '$1'),
    page,
    y: Number(y),
  })).toSorted((a, b) => Number(a.page) - Number(b.page) || b.y - a.y)
}

const utf16 = (hex: string): string => Buffer.from(hex, 'hex').swap16().toString('utf16le')

/** Glyph numbers to letters. */
function unicodeOf(map: string): Map<number, string> {
  const letters = new Map<number, string>()
  for (const [, block = ''] of map.matchAll(/beginbfchar\n([\s\S]*?)endbfchar/g)) {
    for (const [, glyph = '', hex = ''] of block.matchAll(/<([0-9A-F]+)> <([0-9A-F]+)>/g)) {
      letters.set(parseInt(glyph, 16), utf16(hex))
    }
  }
  for (const [, block = ''] of map.matchAll(/beginbfrange\n([\s\S]*?)endbfrange/g)) {
    const rows = block.matchAll(/<([0-9A-F]+)> <([0-9A-F]+)> <([0-9A-F]+)>/g)
    for (const [, from = '', to = '', hex = ''] of rows) {
      const first = parseInt(from, 16)
      for (let glyph = first; glyph <= parseInt(to, 16); glyph++) {
        letters.set(glyph, String.fromCharCode(parseInt(hex, 16) + glyph - first))
      }
    }
  }
  return letters
}

function textOf(content: string, fonts: ReadonlyMap<string, ReadonlyMap<number, string>>): string {
  let letters: ReadonlyMap<number, string> = new Map()
  let text = ''
  for (const [, font, hex] of content.matchAll(/\/(F\d+) [\d.]+ Tf|<([0-9A-F]+)> Tj/g)) {
    if (font !== undefined) letters = fonts.get(font) ?? new Map()
    for (const [glyph] of (hex ?? '').matchAll(/.{4}/g)) {
      text += letters.get(parseInt(glyph, 16)) ?? '\ufffd'
    }
  }
  // Two letters drawn as one glyph are two letters.
  return text.normalize('NFKC').replace(/\s/g, '')
}
