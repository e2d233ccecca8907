import { files } from '../../api.ts'
import { say } from '../../say.ts'
import './plan.css'

/** A photo of a journal entry, small; the link leads to all of it. */
export function EntryPhoto({ entry, of }: { readonly entry: number; readonly of: string }) {
  return (
    <a class="entry-photo" href={files.photo(entry)} target="_blank" rel="noreferrer">
      <img
        src={files.photo(entry)}
        alt={say`As it looked: ${of}`}
        loading="lazy"
        width="96"
        height="72"
      />
    </a>
  )
}
