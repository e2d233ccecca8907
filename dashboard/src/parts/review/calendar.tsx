import { useRef, useState } from 'preact/hooks'
import { files } from '../../api.ts'
import { say } from '../../say.ts'
import { useWho } from '../../who.ts'
import { Link } from '../link.tsx'

/** How the days of plans get into the gardener's own calendar. */
export function Calendar() {
  const who = useWho()
  const address = useRef<HTMLInputElement>(null)
  const [said, setSaid] = useState('')
  const copy = async (): Promise<void> => {
    address.current?.select()
    // Browsers give the clipboard to pages from https and from this very machine alone.
    const clipboard = navigator.clipboard as Clipboard | undefined
    try {
      await clipboard?.writeText(location.origin + files.calendar)
    } catch {
      setSaid(say`It is marked now: copy it with the keys or the menu of your device.`)
      return
    }
    setSaid(
      clipboard === undefined
        ? say`It is marked now: copy it with the keys or the menu of your device.`
        : say`Copied.`,
    )
  }
  return (
    <section class="sheet" aria-labelledby="calendar">
      <h2 id="calendar">{say`The dates in your calendar`}</h2>
      <p class="sentence">{say`Portions that are due, days to measure again, next treatments and ends of trials, as whole days. In your calendar program choose to subscribe to a calendar by its address and paste this; it then follows when dates move. The device has to reach the hub.`}</p>
      {who?.state === 'in' && (
        <p class="sentence">
          {say`Calendar programs cannot sign in: they fetch a secret address.`}{' '}
          <Link to={{ page: 'people' }} data-needs="change">{say`Make the addresses`}</Link>
        </p>
      )}
      {who?.state !== 'in' && (
        <label class="field full">
          <span class="hint">{say`Address of the calendar`}</span>
          <input
            ref={address}
            readOnly
            value={location.origin + files.calendar}
            onFocus={(event) => event.currentTarget.select()}
          />
        </label>
      )}
      <p class="buttons">
        {who?.state !== 'in' && (
          <button type="button" onClick={() => void copy()}>{say`Copy the address`}</button>
        )}
        <a
          class="button"
          href={files.calendar}
          download="garden.ics"
        >{say`Fetch it once as a file`}</a>
      </p>
      <p role="status" class="faint">
        {said}
      </p>
    </section>
  )
}
