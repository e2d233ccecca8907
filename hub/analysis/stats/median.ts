/** The finite values, ascending. */
export function sortedFinite(values: Iterable<number>): Float64Array {
  return finiteOf(values).sort()
}

function finiteOf(values: Iterable<number>): Float64Array {
  const all = values instanceof Float64Array || Array.isArray(values) ? values : Array.from(values)
  const out = new Float64Array(all.length)
  let n = 0
  for (let i = 0; i < all.length; i++) {
    const value = all[i] as number
    if (Number.isFinite(value)) out[n++] = value
  }
  return out.subarray(0, n)
}

/** Up to here insertion beats the general sort. */
const FEW = 48

/** Median of the finite values; NaN when there is none. */
export function median(values: Iterable<number>): number {
  const sorted = finiteOf(values)
  const n = sorted.length
  if (n === 0) return NaN
  if (n > FEW) sorted.sort()
  else {
    for (let i = 1; i < n; i++) {
      const value = sorted[i]!
      let j = i - 1
      for (; j >= 0 && sorted[j]! > value; j--) sorted[j + 1] = sorted[j]!
      sorted[j + 1] = value
    }
  }
  const half = n >> 1
  return n % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2
}
