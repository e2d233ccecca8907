/** Scalar product. */
export function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

/** Takes out of a column, in place, what unit columns at right angles to each other can explain. */
export function takeOut(column: Float64Array, basis: readonly Float64Array[]): void {
  // Twice: once is not enough when little is left (Gram-Schmidt with reorthogonalisation).
  for (let pass = 0; pass < 2; pass++) {
    for (const unit of basis) {
      const share = dot(column, unit)
      for (let i = 0; i < column.length; i++) column[i] = column[i]! - share * unit[i]!
    }
  }
}

/**
 * Unit columns at right angles that span the same space. A column of which less than `least` of its length is
 * left adds nothing and is dropped.
 */
export function orthonormal(columns: readonly Float64Array[], least: number): Float64Array[] {
  const basis: Float64Array[] = []
  for (const own of columns) {
    const column = Float64Array.from(own)
    takeOut(column, basis)
    const length = Math.sqrt(dot(column, column))
    if (length > least * Math.sqrt(dot(own, own))) basis.push(column.map((v) => v / length))
  }
  return basis
}
