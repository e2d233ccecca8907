/** A certificate (with the chain above it) and its private key, as PEM text. */
export interface CertificatePair {
  readonly cert: string
  readonly key: string
}

/** A certificate that may be renewed while the hub runs. */
export interface LiveCertificate {
  now(): CertificatePair
  /** Calls back with each new pair. Returns an unsubscribe. */
  onRenewed(listener: (pair: CertificatePair) => void): () => void
}
