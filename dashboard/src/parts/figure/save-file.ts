/** Gives a file to the browser's downloads. */
export function saveFile(name: string, content: Blob): void {
  const url = URL.createObjectURL(content)
  const link = document.createElement('a')
  link.href = url
  link.download = name
  link.click()
  // The download has the content by then; the address would keep it for as long as the page is open.
  setTimeout(() => URL.revokeObjectURL(url), 10_000)
}

/** A name for a file: letters, digits and single hyphens, whatever a bed is called. */
export function fileName(...parts: readonly string[]): string {
  const plain = parts
    .join('-')
    .normalize('NFKD')
    .replace(/\p{M}/gu, '')
    .replace(/[^\p{L}\p{N}]+/gu, '-')
    .replace(/^-+|-+$/g, '')
    .toLowerCase()
  return plain === '' ? 'chart' : plain.slice(0, 80)
}
