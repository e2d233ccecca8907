import { language } from '../../words/say.ts'
import type { Letter } from './letter.ts'

const ESCAPES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
}
const escaped = (text: string): string => text.replaceAll(/[&<>"']/g, (sign) => ESCAPES[sign]!)
const paragraph = (text: string): string => (text === '' ? '' : `<p>${escaped(text)}</p>\n`)

/** A letter as HTML without pictures, scripts or anything fetched from elsewhere. */
export function letterHtml(
  { subject, lead, places, link, foot }: Letter,
  note: string | null,
): string {
  const body = places
    .map(
      ({ name, entries }) =>
        `<h2>${escaped(name)}</h2>\n` +
        entries
          .map(
            ({ title, sentence, advice, notes }) =>
              `<h3>${escaped(title)}</h3>\n` +
              paragraph(sentence) +
              paragraph(advice) +
              (notes.length === 0 ? '' : `<p><small>${escaped(notes.join(' '))}</small></p>\n`),
          )
          .join(''),
    )
    .join('')
  const address = link === null ? '' : escaped(link)
  return (
    `<!doctype html>\n<html lang="${language()}">\n<head><meta charset="utf-8"><title>${escaped(subject)}</title></head>\n` +
    `<body>\n${paragraph(note ?? '')}${paragraph(lead)}${body}` +
    (link === null ? '' : `<p><a href="${address}">${address}</a></p>\n`) +
    foot.map((line) => `<p><small>${escaped(line)}</small></p>\n`).join('') +
    '</body>\n</html>\n'
  )
}
