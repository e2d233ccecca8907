/** @throws RangeError when a column has another length than `rows`, or holds a NaN or an infinite value. */
export function checkColumn(column: Float64Array, rows: number, name: string): void {
  if (column.length !== rows) {
    throw new RangeError(`${name} has ${column.length} rows, expected ${rows}`)
  }
  const bad = column.findIndex((value) => !Number.isFinite(value))
  if (bad >= 0) throw new RangeError(`${name} is ${column[bad]} in row ${bad}, expected a number`)
}
