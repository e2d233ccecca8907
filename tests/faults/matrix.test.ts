import { globSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'

/* The table of faults promises tests, and every test of a fault stands in the table. */

interface Row {
  readonly fault: string
  readonly lost: string
  readonly doubled: string
  readonly file: string
  readonly title: string
}

const rows: readonly Row[] = readFileSync('tests/faults/README.md', 'utf8')
  .split('\n')
  .filter((line) => line.startsWith('| ') && !line.startsWith('| fault |'))
  .map((line) => {
    const cells = line.split(' | ').map((cell) => cell.replace(/^\| | \|$/g, '').trim())
    expect(cells, line).toHaveLength(6)
    const [fault = '', , , lost = '', doubled = '', test = ''] = cells
    const at = test.indexOf(': ')
    return { fault, lost, doubled, file: test.slice(0, at), title: test.slice(at + 2) }
  })

/** Titles of the tests of a file, as they stand in it. */
function titlesIn(file: string): readonly string[] {
  const text = readFileSync(`tests/${file}`, 'utf8')
  // The first argument of a call, before what the test does or its time.
  const found = text.matchAll(
    /(?<!until\(\s*)(?<=\(\s*)(['"`])((?:(?!\1)[^\n])+)\1,\s*(?=\{ timeout|async|[A-Z]+,)/g,
  )
  return Array.from(found, ([, , title]) => title!)
}

test('every row of the table of faults names a test that is there', () => {
  expect(rows.length).toBeGreaterThan(40)
  for (const { fault, file, title } of rows) {
    expect(titlesIn(file), `${fault}: no test '${title}' in tests/${file}`).toContain(title)
  }
})

test('every test of a fault has a row', () => {
  for (const path of globSync('tests/faults/*.test.ts')) {
    if (path.endsWith('matrix.test.ts')) continue
    const file = path.slice('tests/'.length)
    const titles = titlesIn(file)
    expect(titles.length, path).toBeGreaterThan(0)
    for (const title of titles) {
      const row = rows.find((one) => one.file === file && one.title === title)
      expect(row, `tests/faults/README.md lacks '${title}' of ${file}`).toBeDefined()
    }
  }
})

test('no row doubles a reading, and what is lost is nothing or said', () => {
  for (const { fault, lost, doubled } of rows) {
    expect(doubled, fault).toBe('0')
    expect(lost, fault).not.toBe('')
  }
})
