/** Names cut to `most` letters, at the end that does not make two of them the same. */
export function shortNames(names: readonly string[], most: number): string[] {
  const head = (name: string): string => `${name.slice(0, most - 1).trimEnd()}…`
  return names.map((name, i) => {
    if (name.length <= most) return name
    const twin = names.some((other, k) => k !== i && head(other) === head(name))
    return twin ? `…${name.slice(1 - most).trimStart()}` : head(name)
  })
}
