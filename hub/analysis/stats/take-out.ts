/** Scalar product. */
export function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

/** Half of the square left: less than that, and rounding shows (Kahan's criterion, Parlett 1980, from memory). */
const ENOUGH_LEFT = 0.5

/**
 * Takes out of a column, in place, what unit columns at right angles to each other can explain. Answers the
 * squared length of what is left.
 */
export function takeOut(column: Float64Array, basis: readonly Float64Array[]): number {
  let square = dot(column, column)
  // Once more when little is left; twice is enough.
  for (let pass = 0; pass < 2; pass++) {
    const whole = square
    for (const unit of basis) {
      const share = dot(column, unit)
      for (let i = 0; i < column.length; i++) column[i] = column[i]! - share * unit[i]!
    }
    square = dot(column, column)
    if (square > ENOUGH_LEFT * whole) break
  }
  return square
}

/**
 * Unit columns at right angles that span the same space. A column of which less than `least` of its length is
 * left adds nothing and is dropped.
 */
export function orthonormal(columns: readonly Float64Array[], least: number): Float64Array[] {
  const basis: Float64Array[] = []
  for (const own of columns) {
    const column = Float64Array.from(own)
    const length = Math.sqrt(takeOut(column, basis))
    if (length > least * Math.sqrt(dot(own, own))) basis.push(column.map((v) => v / length))
  }
  return basis
}
