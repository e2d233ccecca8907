import { join } from 'node:path'
import type { LiveCertificate } from '../model/certificate.ts'
import { SECOND } from '../model/clock.ts'
import { makePath } from '../store/make-path.ts'
import { replaceFile } from './broker-files.ts'

/** Name of the file beside passwords and access list. */
export const CERTIFICATE_FILE = 'certificate'

const AGAIN_MS = 30 * SECOND

export interface BrokerCertificateOptions {
  /** Folder of the broker's files; made when it is not there. */
  readonly folder: string
  readonly certificate: LiveCertificate
  readonly onTrouble: (message: string) => void
  /** Wait before what could not be written is tried again, ms. @default 30 s */
  readonly againMs?: number
}

/**
 * Keeps the certificate that a broker of one's own shows in a file beside its passwords, with its key in the same file:
 * a mosquitto that reads its files again while the two do not belong together takes nobody in by TLS until the next
 * time, and one file is replaced whole. What cannot be written is tried again.
 */
export function keepBrokerCertificate(options: BrokerCertificateOptions): { stop(): void } {
  const { folder, certificate, onTrouble, againMs = AGAIN_MS } = options
  let timer: NodeJS.Timeout | undefined
  let tail: Promise<void> = Promise.resolve()
  let stopped = false

  async function write(): Promise<void> {
    if (stopped) return
    const { cert, key } = certificate.now()
    try {
      makePath(folder, 0o700)
      await replaceFile(join(folder, CERTIFICATE_FILE), `${cert.trimEnd()}\n${key.trimEnd()}\n`)
    } catch (cause) {
      onTrouble(
        `the broker's certificate in ${folder} cannot be written: ${(cause as Error).message}`,
      )
      if (!stopped) timer = setTimeout(take, againMs).unref()
    }
  }

  function take(): void {
    clearTimeout(timer)
    tail = tail.then(write)
  }

  take()
  const off = certificate.onRenewed(take)
  return {
    stop() {
      stopped = true
      off()
      clearTimeout(timer)
    },
  }
}
