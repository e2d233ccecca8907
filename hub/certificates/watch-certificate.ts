import type { CertificatePair, LiveCertificate } from '../model/certificate.ts'
import { DAY, MINUTE, type Clock } from '../model/clock.ts'
import { certificateFacts, type CertificateFacts } from './certificate-facts.ts'
import { openToAll, readPair, type PairFiles } from './read-pair.ts'

export interface WatchCertificateOptions {
  readonly files: PairFiles
  readonly clock: Clock
  readonly log: { warn(message: string): void; info(message: string): void }
  /** How often the files are looked at, ms. @default a minute */
  readonly lookEveryMs?: number
}

export interface WatchedCertificate extends LiveCertificate {
  facts(): CertificateFacts
  /** Looks at the files at once. */
  look(): void
  stop(): void
}

/**
 * Reads a certificate and takes over a renewed one by itself. The files are read again and compared, because
 * programs that renew them swap links, rename, or write one file after the other: a pair that does not fit
 * is looked at again, and the one before goes on.
 *
 * @throws HubError HUB_CONFIG when there is none to begin with
 */
export function watchCertificate(options: WatchCertificateOptions): WatchedCertificate {
  const { files, clock, log } = options
  const listeners = new Set<(pair: CertificatePair) => void>()
  const name = files.certificate.file
  let pair = readPair(files)
  let facts = certificateFacts(pair.cert)
  let failed = 0
  let remindedAt: number | null = null

  if (openToAll(files.key.file)) {
    log.warn(
      `${files.key.setting}: everybody on this machine can read ${files.key.file}; 'chmod 600' it`,
    )
  }

  function remind(): void {
    const now = clock()
    if (now < facts.dueAt || (remindedAt !== null && Math.abs(now - remindedAt) < DAY)) return
    remindedAt = now
    const day = new Date(facts.to).toISOString().slice(0, 10)
    log.warn(
      now < facts.to
        ? `the certificate ${name} ends on ${day} and has not been renewed`
        : `the certificate ${name} ended on ${day}: browsers and probes refuse it`,
    )
  }

  function look(): void {
    let next: CertificatePair
    try {
      next = readPair(files)
    } catch (error) {
      failed += 1
      // Two files written one after the other do not fit in between: only what lasts is told.
      if (failed === 2) {
        log.warn(`${(error as Error).message}; going on with the certificate from before`)
      }
      remind()
      return
    }
    failed = 0
    if (next.cert !== pair.cert || next.key !== pair.key) {
      pair = next
      facts = certificateFacts(pair.cert)
      remindedAt = null
      log.info(
        `the certificate ${name} was renewed, it is good until ${new Date(facts.to).toISOString().slice(0, 10)}`,
      )
      for (const listener of listeners) listener(pair)
    }
    remind()
  }

  remind()
  const timer = setInterval(look, options.lookEveryMs ?? MINUTE)
  timer.unref()
  return {
    now: () => pair,
    onRenewed(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    facts: () => facts,
    look,
    stop: () => clearInterval(timer),
  }
}
