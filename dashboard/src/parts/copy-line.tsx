import { useState } from 'preact/hooks'
import { say } from '../say.ts'

/** A line for a terminal, to be copied as it stands. */
export function CopyLine({ line }: { line: string }) {
  const [copied, setCopied] = useState(false)
  const copy = (): void => {
    void navigator.clipboard.writeText(line).then(
      () => setCopied(true),
      () => setCopied(false),
    )
  }
  return (
    <div class="command">
      <pre>
        <code>{line}</code>
      </pre>
      {/* Browsers copy for pages of this machine and of HTTPS only; elsewhere one click marks the whole line. */}
      {window.isSecureContext && (
        <button type="button" class="quiet" onClick={copy}>
          {copied ? say`Copied` : say`Copy`}
        </button>
      )}
    </div>
  )
}
