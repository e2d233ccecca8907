/** What a TLS handshake that failed means, by the code Node gives it. */
const WORDING: Readonly<Record<string, string>> = {
  DEPTH_ZERO_SELF_SIGNED_CERT: 'nobody this machine trusts vouches for its self-signed certificate',
  SELF_SIGNED_CERT_IN_CHAIN:
    'nobody this machine trusts vouches for its certificate: there is a self-signed certificate in its chain',
  UNABLE_TO_VERIFY_LEAF_SIGNATURE: 'nobody this machine trusts vouches for its certificate',
  UNABLE_TO_GET_ISSUER_CERT: 'nobody this machine trusts vouches for its certificate',
  UNABLE_TO_GET_ISSUER_CERT_LOCALLY: 'nobody this machine trusts vouches for its certificate',
  CERT_SIGNATURE_FAILURE: 'the signature of its certificate is wrong',
  CERT_HAS_EXPIRED: 'its certificate has expired',
  CERT_NOT_YET_VALID: 'its certificate is not good yet; is the clock of this machine right?',
  ERR_SSL_WRONG_VERSION_NUMBER: 'it does not speak TLS at that port',
  ERR_SSL_PACKET_LENGTH_TOO_LONG: 'it does not speak TLS at that port',
  ERR_SSL_UNSUPPORTED_PROTOCOL: 'it speaks no TLS of version 1.2 or newer',
  ERR_SSL_TLSV1_ALERT_PROTOCOL_VERSION: 'it speaks no TLS of version 1.2 or newer',
}

/** Of those that have to do with whom is trusted. */
const UNTRUSTED = /^(DEPTH_ZERO_SELF|SELF_SIGNED|UNABLE_TO_(VERIFY|GET))/

/**
 * Why there is no encrypted connection to a broker; null when it is for another reason.
 *
 * @param withCa whether a file says whom to trust
 */
export function tlsWording(
  error: { readonly code?: string; readonly message: string },
  withCa: boolean,
): string | null {
  const { code = '', message } = error
  if (code === 'ERR_TLS_CERT_ALTNAME_INVALID') {
    const names = /^.*altnames: (?<why>.*)$/s.exec(message)?.groups?.['why'] ?? message
    return `its certificate is for another name: ${names}`
  }
  if (code === 'ECONNRESET' || code === 'EPIPE')
    return 'it closed the connection before it was encrypted; does it speak TLS at that port?'
  const words = WORDING[code]
  if (words === undefined) return null
  if (!UNTRUSTED.test(code)) return words
  return withCa
    ? `${words.replace('nobody this machine trusts', 'none in the file of LOAMLINE_BROKER_CA')}`
    : `${words}; LOAMLINE_BROKER_CA names a file with the certificates to trust`
}

const REFUSED: Readonly<Record<string, string>> = {
  ERR_SSL_HTTP_REQUEST: 'it spoke unencrypted HTTP',
  ERR_SSL_WRONG_VERSION_NUMBER: 'it did not speak TLS',
  ERR_SSL_UNSUPPORTED_PROTOCOL: 'it speaks no TLS of version 1.2 or newer',
  ERR_SSL_TLSV1_ALERT_UNKNOWN_CA: 'it does not trust the certificate of the hub',
  ERR_SSL_SSLV3_ALERT_CERTIFICATE_UNKNOWN: 'it does not accept the certificate of the hub',
  ERR_SSL_SSLV3_ALERT_BAD_CERTIFICATE: 'it does not accept the certificate of the hub',
  ERR_SSL_SSLV3_ALERT_CERTIFICATE_EXPIRED: 'for it the certificate of the hub has expired',
  ERR_SSL_NO_SHARED_CIPHER: 'it has no cipher in common with the hub',
  ERR_TLS_HANDSHAKE_TIMEOUT: 'it did not finish the handshake in time',
}

/** Why a client that came to an encrypted port was not let in, for the log. */
export function tlsRefusal(error: { readonly code?: string; readonly message: string }): string {
  return REFUSED[error.code ?? ''] ?? error.message
}
