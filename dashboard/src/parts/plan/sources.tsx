import type { SourceView } from '../../../../hub/api/schemas/planning.ts'
import { said, say, toSay } from '../../say.ts'

/** How the project knows a publication. */
const SEEN_WORDS: Readonly<Record<string, string>> = {
  read: toSay('read'),
  'abstract read': toSay('abstract read'),
  'read as quoted by another source': toSay('read as quoted by another source'),
  computed: toSay('computed'),
  'from memory': toSay('from memory'),
}

/** Publications that something rests on; none: common practice. */
export function Sources({ sources }: { readonly sources: readonly SourceView[] }) {
  if (sources.length === 0) return <p class="source">{say`Common practice, no source.`}</p>
  return (
    <ul class="sources">
      {sources.map(({ id, publisher, title, year, url, seen }) => (
        <li key={id} class="source">
          {publisher}: {url === null ? <cite>{title}</cite> : <a href={url}>{title}</a>}
          {year !== null && `, ${year}`}{' '}
          <span class="faint">({said(SEEN_WORDS[seen] ?? seen)})</span>
        </li>
      ))}
    </ul>
  )
}
