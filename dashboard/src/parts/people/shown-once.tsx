import { useState } from 'preact/hooks'
import { say } from '../../say.ts'

interface Props {
  readonly label: string
  readonly text: string
}

/** A secret to take along: it is shown this once. */
export function ShownOnce({ label, text }: Props) {
  const [copied, setCopied] = useState(false)
  // On a page without encryption the browser gives no clipboard; the text can be marked all the same.
  const clipboard: Clipboard | undefined = navigator.clipboard
  return (
    <p class="shown-once">
      <span class="label">{label}</span> <code data-testid="shown-once">{text}</code>{' '}
      {clipboard !== undefined && (
        <button
          type="button"
          onClick={() => {
            clipboard.writeText(text).then(
              () => setCopied(true),
              () => undefined,
            )
          }}
        >
          {copied ? say`Copied` : say`Copy`}
        </button>
      )}
    </p>
  )
}
