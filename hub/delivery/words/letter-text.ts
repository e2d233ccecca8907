import type { Letter } from './letter.ts'

/** A letter as plain text; `note` on top where there is one. */
export function letterText({ lead, places, link, foot }: Letter, note: string | null): string {
  const parts = [
    ...(note === null ? [] : [note]),
    ...(lead === '' ? [] : [lead]),
    ...places.flatMap(({ name, entries }) => [
      `${name}\n${'='.repeat(name.length)}`,
      ...entries.map(({ title, sentence, advice, notes }) =>
        [title, sentence, advice, notes.join(' ')].filter((line) => line !== '').join('\n'),
      ),
    ]),
    ...(link === null ? [] : [link]),
    ...(foot.length === 0 ? [] : [`-- \n${foot.join('\n')}`]),
  ]
  return `${parts.join('\n\n')}\n`
}
