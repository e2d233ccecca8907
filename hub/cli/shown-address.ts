const EVERYWHERE = /\/\/(?:0\.0\.0\.0|\[::\])(?=:|$)/

/** An address to listen on, as somebody can call it: no client reaches '0.0.0.0'. */
export function shownAddress(address: string): string {
  const here = address.replace(EVERYWHERE, '//127.0.0.1')
  return here === address ? address : `${here}, or any other address of this machine`
}
