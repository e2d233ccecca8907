import { createHash, X509Certificate } from 'node:crypto'
import { DAY } from '../model/clock.ts'

export interface CertificateFacts {
  /** Names and addresses it is good for, as it lists them: `DNS:hub.example, IP Address:192.168.1.20`. */
  readonly names: string
  /** Epoch ms. */
  readonly from: number
  readonly to: number
  /** From when on it should have been renewed, epoch ms. */
  readonly dueAt: number
  /** SHA-256 of its public key (SubjectPublicKeyInfo), base64: what a probe can pin (RFC 7469, 2.4). */
  readonly keySha256: string
}

/** A renewal that comes later than this before the end leaves no time to notice that it failed. */
const DUE_BEFORE_MS = 14 * DAY
/** Of certificates that live for days only. */
const DUE_SHARE = 0.2

/** What the first certificate of a chain says. Throws what `X509Certificate` throws. */
export function certificateFacts(pem: string): CertificateFacts {
  const certificate = new X509Certificate(pem)
  const from = certificate.validFromDate.getTime()
  const to = certificate.validToDate.getTime()
  const spki = certificate.publicKey.export({ type: 'spki', format: 'der' })
  return {
    names: certificate.subjectAltName ?? '',
    from,
    to,
    dueAt: to - Math.min(DUE_BEFORE_MS, (to - from) * DUE_SHARE),
    keySha256: createHash('sha256').update(spki).digest('base64'),
  }
}
