import { describe, expect, test } from 'vitest'
import { holds, parseExpression, timeRange, type Value } from '#hub/sensorthings/expression.ts'

const T = Date.UTC(2010, 5, 1)
const row: Readonly<Record<string, Value>> = {
  result: 12,
  name: "O'Neil's bed",
  phenomenonTime: { moment: T },
  unit: null,
}
const truth = (filter: string): boolean =>
  holds(parseExpression(filter), (path) => [row[path.join('/')] ?? null])

describe('built-in filter operators, OGC 18-088 clause 9.3.3.5.1 (examples from memory)', () => {
  test.each([
    ['result eq 12', true],
    ['result ne 12', false],
    ['result gt 20', false],
    ['result ge 10', true],
    ['result lt 100', true],
    ['result le 100', true],
    ['result le 3.5 and result gt 200', false],
    ['result le 3.5 or result gt 2', true],
    ['not (result le 3.5)', true],
    ['result add 5 gt 10', true],
    ['result sub 5 gt 10', false],
    ['result mul 2 gt 2000', false],
    ['result div 2 gt 4', true],
    ['result mod 5 eq 2', true],
    ['(result sub 5) gt 10', false],
    ['-result lt 0', true],
    // Times bind before plus, comparisons after both, `and` before `or`.
    ['1 add 2 mul 3 eq 7', true],
    ['result eq 1 or result eq 12 and result eq 12', true],
    ['(result eq 12 or result eq 1) and result eq 2', false],
    ["name eq 'O''Neil''s bed'", true],
    ['phenomenonTime eq 2010-06-01T00:00:00Z', true],
    ['phenomenonTime gt 2010-06-01T01:00:00+02:00', true],
    ['phenomenonTime lt 2010-06-02', true],
    ['2010-06-02 gt phenomenonTime', true],
    ['unit eq null', true],
    ['unit ne null', false],
    ['unit gt 3', false],
    // Nothing divides by nothing.
    ['result div 0 gt 1', false],
    // A text and a number are not the same, and neither is larger.
    ["result eq '12'", false],
    ["result gt 'a'", false],
  ])('%s: %s', (filter, expected) => {
    expect(truth(filter)).toBe(expected)
  })

  test.each([
    ['result eq', 400, 'the end'],
    ['result 12', 400, "'12'"],
    ['result eq 12)', 400, "')'"],
    ['(result eq 12', 400, "')'"],
    ['result eq 12 and', 400, 'the end'],
    ['eq eq 3', 400, "'eq'"],
    ['result eq #', 400, '#'],
    ['phenomenonTime gt 2010-13-45', 400, '2010-13-45'],
    ["substringof('a', name)", 501, 'substringof'],
    [`${'('.repeat(60)}1 eq 1${')'.repeat(60)}`, 400, 'deep'],
  ])('%s is refused with %d', (filter, status, words) => {
    expect(() => parseExpression(filter)).toThrow(
      expect.objectContaining({ status, message: expect.stringContaining(words) as string }),
    )
  })
})

describe('the stretch of time that an expression leaves', () => {
  test.each([
    ['phenomenonTime ge 2010-06-01', [T, Infinity, true]],
    ['phenomenonTime gt 2010-06-01 and resultTime lt 2010-06-02', [T + 1, T + 86_400_000, true]],
    ['2010-06-01 le phenomenonTime', [T, Infinity, true]],
    ['phenomenonTime eq 2010-06-01', [T, T + 1, true]],
    ['phenomenonTime le 2010-06-01 and result gt 3', [-Infinity, T + 1, false]],
    // One side of an `or` may hold anywhere.
    ['phenomenonTime le 2010-06-01 or result gt 3', [-Infinity, Infinity, false]],
    ['not (phenomenonTime le 2010-06-01)', [-Infinity, Infinity, false]],
  ] as const)('%s', (filter, [from, to, exact]) => {
    expect(timeRange(parseExpression(filter))).toEqual({ from, to, exact })
  })
})
