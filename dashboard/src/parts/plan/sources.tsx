import type { SourceView } from '../../../../hub/api/schemas/planning.ts'

/** Publications that something rests on; none: common practice. */
export function Sources({ sources }: { readonly sources: readonly SourceView[] }) {
  if (sources.length === 0) return <p class="source">Common practice, no source.</p>
  return (
    <ul class="sources">
      {sources.map(({ id, publisher, title, year, url, seen }) => (
        <li key={id} class="source">
          {publisher}: {url === null ? <cite>{title}</cite> : <a href={url}>{title}</a>}
          {year !== null && `, ${year}`} <span class="faint">({seen})</span>
        </li>
      ))}
    </ul>
  )
}
