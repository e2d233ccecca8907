import { useEffect, useRef, useState } from 'preact/hooks'
import { api } from '../api.ts'
import { useLoad } from '../hub-context.tsx'
import { Besides } from '../parts/interfaces/besides.tsx'
import { OperationEntry } from '../parts/interfaces/operation.tsx'
import { askings, found, type Asking } from '../parts/interfaces/operations.ts'
import { say } from '../say.ts'
import '../parts/interfaces/interfaces.css'

/** Everything other programs can have of the hub, drawn from its own description. */
export function InterfacesView() {
  const document = useLoad('interfaces', api.openApi)
  const [search, setSearch] = useState('')
  const field = useRef<HTMLInputElement>(null)
  useEffect(() => {
    const toSearch = (event: KeyboardEvent): void => {
      const { target, key, ctrlKey, metaKey, altKey } = event
      const typing = target instanceof HTMLElement && target.matches('input, textarea, select')
      if (key !== '/' || typing || ctrlKey || metaKey || altKey) return
      event.preventDefault()
      field.current?.focus()
    }
    window.addEventListener('keydown', toSearch)
    return () => window.removeEventListener('keydown', toSearch)
  }, [])
  const all = document.data === null ? [] : askings(document.data)
  const shown = found(all, search)
  const groups = new Map<string, Asking[]>()
  for (const asking of shown) {
    groups.set(asking.tag, [...(groups.get(asking.tag) ?? []), asking])
  }
  const words = new Map((document.data?.tags ?? []).map((tag) => [tag.name, tag.description]))
  return (
    <>
      <div class="page-head">
        <h1>{say`Interfaces`}</h1>
      </div>
      <p class="sentence">{say`What other programs can have of this hub. These pages use nothing else. Times are milliseconds since 1970, values SI; refusals are RFC 9457 problem details. The descriptions are in English.`}</p>
      <Besides />
      <section class="sheet" aria-labelledby="asked">
        <h2 id="asked">{say`What can be asked`}</h2>
        <p class="field">
          <label for="asked-search">{say`Search: words or part of an address; the key / leads here`}</label>
          <input
            id="asked-search"
            ref={field}
            type="search"
            value={search}
            autocomplete="off"
            onInput={(event) => setSearch(event.currentTarget.value)}
          />
        </p>
        <p class="faint" role="status">
          {shown.length === 1 ? say`One found.` : say`${shown.length} found.`}
        </p>
        {document.problem !== null && (
          <p class="error" role="alert">
            {say`Could not be fetched: ${document.problem.title}.`}{' '}
            <button type="button" onClick={document.reload}>
              {say`Fetch again`}
            </button>
          </p>
        )}
        {[...groups].map(([tag, list]) => (
          <section key={tag} aria-labelledby={`group-${list[0]!.id}`}>
            <h3 id={`group-${list[0]!.id}`} lang="en">
              {tag}
            </h3>
            <p class="faint" lang="en">
              {words.get(tag)}
            </p>
            {list.map((asking) => (
              <OperationEntry key={asking.id} asking={asking} origin={location.origin} />
            ))}
          </section>
        ))}
      </section>
    </>
  )
}
