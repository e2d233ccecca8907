import { badRequest, notOffered } from './fault.ts'

/** A moment in a comparison; told apart from numbers so that the two are never compared. */
export interface Moment {
  readonly moment: number
}
export type Value = string | number | boolean | null | Moment

const COMPARISONS = ['eq', 'ne', 'gt', 'ge', 'lt', 'le'] as const
const ARITHMETIC = ['add', 'sub', 'mul', 'div', 'mod'] as const
type Comparison = (typeof COMPARISONS)[number]
type Arithmetic = (typeof ARITHMETIC)[number]

/** A $filter, read. */
export type Expression =
  | { readonly kind: 'literal'; readonly value: Value }
  | { readonly kind: 'path'; readonly path: readonly string[] }
  | { readonly kind: 'not'; readonly of: Expression }
  | { readonly kind: 'minus'; readonly of: Expression }
  | {
      readonly kind: 'and' | 'or'
      readonly left: Expression
      readonly right: Expression
    }
  | {
      readonly kind: 'compare'
      readonly operator: Comparison
      readonly left: Expression
      readonly right: Expression
    }
  | {
      readonly kind: 'compute'
      readonly operator: Arithmetic
      readonly left: Expression
      readonly right: Expression
    }

/** Deep nesting is no question anybody asks. */
const MOST_DEPTH = 40
const TOKEN =
  /\s*(?:('(?:[^']|'')*')|(\d{4}-\d{2}-\d{2}(?:T\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?)|(-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)|([A-Za-z_@][\w.@]*(?:\/[A-Za-z_@][\w.@]*)*)|([(),-]))/y

interface Token {
  readonly kind: 'text' | 'time' | 'number' | 'word' | 'sign'
  readonly text: string
  readonly at: number
}

function tokensOf(source: string): Token[] {
  const tokens: Token[] = []
  let at = 0
  while (source.slice(at).trim() !== '') {
    TOKEN.lastIndex = at
    const found = TOKEN.exec(source)
    if (found === null) {
      throw badRequest(
        `$filter: expected a name, a value or an operator, got '${source.slice(at).trim().slice(0, 20)}'`,
      )
    }
    const [, text, time, number, word, sign] = found
    const kinds = { text, time, number, word, sign }
    for (const [kind, value] of Object.entries(kinds)) {
      if (value !== undefined) {
        tokens.push({ kind: kind as Token['kind'], text: value, at })
      }
    }
    at = TOKEN.lastIndex
  }
  return tokens
}

/** A time as $filter writes it, epoch ms; without an offset it is UTC. */
function momentOf(text: string): Moment {
  const full = /T/.test(text) && !/(Z|[+-]\d{2}:?\d{2})$/.test(text) ? `${text}Z` : text
  const moment = Date.parse(full)
  if (Number.isNaN(moment)) throw badRequest(`$filter: expected an ISO 8601 time, got '${text}'`)
  return { moment }
}

/**
 * Reads a $filter: comparisons, `and`, `or`, `not`, arithmetic and brackets over properties and literals
 * (OGC 18-088 clause 9.3.3.5.1, table of built-in filter operators; precedence as in OData 4.01).
 *
 * @throws StaFault 400 when it cannot be read, 501 for functions
 */
export function parseExpression(source: string): Expression {
  const tokens = tokensOf(source)
  let next = 0
  let depth = 0
  const peek = (): Token | undefined => tokens[next]
  const isWord = (...words: readonly string[]): boolean => {
    const token = peek()
    return token?.kind === 'word' && words.includes(token.text)
  }
  const expected = (what: string): Error =>
    badRequest(`$filter: expected ${what}, got '${peek()?.text ?? 'the end'}'`)

  function chain(
    words: readonly string[],
    lower: () => Expression,
    join: (word: string, left: Expression, right: Expression) => Expression,
  ): Expression {
    let left = lower()
    while (isWord(...words)) {
      const word = tokens[next++]!.text
      left = join(word, left, lower())
    }
    return left
  }
  const or = (): Expression => chain(['or'], and, (_, left, right) => ({ kind: 'or', left, right }))
  const and = (): Expression =>
    chain(['and'], comparison, (_, left, right) => ({ kind: 'and', left, right }))
  const comparison = (): Expression =>
    chain(COMPARISONS, sum, (word, left, right) => ({
      kind: 'compare',
      operator: word as Comparison,
      left,
      right,
    }))
  const sum = (): Expression => chain(['add', 'sub'], product, compute)
  const product = (): Expression => chain(['mul', 'div', 'mod'], unary, compute)
  const compute = (word: string, left: Expression, right: Expression): Expression => ({
    kind: 'compute',
    operator: word as Arithmetic,
    left,
    right,
  })

  function unary(): Expression {
    if (++depth > MOST_DEPTH) throw badRequest(`$filter: nested more than ${MOST_DEPTH} deep`)
    try {
      const token = peek()
      if (isWord('not')) {
        next++
        return { kind: 'not', of: unary() }
      }
      if (token?.kind === 'sign' && token.text === '-') {
        next++
        return { kind: 'minus', of: unary() }
      }
      return primary()
    } finally {
      depth--
    }
  }

  function primary(): Expression {
    const token = tokens[next++]
    switch (token?.kind) {
      case 'text':
        return { kind: 'literal', value: token.text.slice(1, -1).replaceAll("''", "'") }
      case 'time':
        return { kind: 'literal', value: momentOf(token.text) }
      case 'number':
        return { kind: 'literal', value: Number(token.text) }
      case 'word': {
        const { text } = token
        if (text === 'true' || text === 'false') return { kind: 'literal', value: text === 'true' }
        if (text === 'null') return { kind: 'literal', value: null }
        if (peek()?.text === '(' && peek()?.kind === 'sign') {
          throw notOffered(`$filter: functions such as ${text}() are not offered here`)
        }
        if (['and', 'or', 'not', ...COMPARISONS, ...ARITHMETIC].includes(text)) {
          next--
          throw expected('a name or a value')
        }
        return { kind: 'path', path: text.split('/') }
      }
      case 'sign':
        if (token.text === '(') {
          const inner = or()
          if (peek()?.text !== ')') throw expected(`')'`)
          next++
          return inner
        }
        next--
        throw expected('a name or a value')
      case undefined:
        throw expected('a name or a value')
    }
  }

  const whole = or()
  if (next < tokens.length) throw expected('and, or, or the end')
  return whole
}

const numberOf = (value: Value): number => (typeof value === 'number' ? value : NaN)

function compute(operator: Arithmetic, left: Value, right: Value): Value {
  const [a, b] = [numberOf(left), numberOf(right)]
  const result = {
    add: () => a + b,
    sub: () => a - b,
    mul: () => a * b,
    div: () => a / b,
    mod: () => a % b,
  }[operator]()
  return Number.isFinite(result) ? result : null
}

/** -1, 0 or 1; null when the two cannot be compared. */
function order(left: Value, right: Value): number | null {
  const sign = (d: number): number | null => (Number.isNaN(d) ? null : Math.sign(d))
  if (typeof left === 'number' && typeof right === 'number') return sign(left - right)
  if (typeof left === 'string' && typeof right === 'string') {
    return left < right ? -1 : left > right ? 1 : 0
  }
  if (typeof left === 'boolean' && typeof right === 'boolean') return sign(+left - +right)
  if (isMoment(left) && isMoment(right)) return sign(left.moment - right.moment)
  return null
}

export const isMoment = (value: Value): value is Moment =>
  typeof value === 'object' && value !== null

function compare(operator: Comparison, left: Value, right: Value): boolean {
  if (left === null || right === null) {
    const same = left === right
    return operator === 'eq' ? same : operator === 'ne' ? !same : false
  }
  const found = order(left, right)
  if (found === null) return operator === 'ne'
  return {
    eq: found === 0,
    ne: found !== 0,
    gt: found > 0,
    ge: found >= 0,
    lt: found < 0,
    le: found <= 0,
  }[operator]
}

/**
 * Whether an entity is meant. Along a path over several entities a comparison holds when it does for any of them.
 *
 * @param valuesAt what stands at a path, one value or several
 */
export function holds(
  expression: Expression,
  valuesAt: (path: readonly string[]) => readonly Value[],
): boolean {
  const values = (e: Expression): readonly Value[] => {
    switch (e.kind) {
      case 'literal':
        return [e.value]
      case 'path':
        return valuesAt(e.path)
      case 'minus':
        return values(e.of).map((v) => (typeof v === 'number' ? -v : null))
      case 'compute':
        return values(e.left).flatMap((l) => values(e.right).map((r) => compute(e.operator, l, r)))
      case 'compare':
        return [values(e.left).some((l) => values(e.right).some((r) => compare(e.operator, l, r)))]
      case 'not':
        return [!truth(e.of)]
      case 'and':
        return [truth(e.left) && truth(e.right)]
      case 'or':
        return [truth(e.left) || truth(e.right)]
    }
  }
  const truth = (e: Expression): boolean => values(e).some((v) => v === true)
  return truth(expression)
}

/** Every path an expression names. */
export function pathsIn(expression: Expression): readonly (readonly string[])[] {
  switch (expression.kind) {
    case 'literal':
      return []
    case 'path':
      return [expression.path]
    case 'not':
    case 'minus':
      return pathsIn(expression.of)
    case 'and':
    case 'or':
    case 'compare':
    case 'compute':
      return [...pathsIn(expression.left), ...pathsIn(expression.right)]
  }
}

export interface TimeRange {
  /** Epoch ms, `from <= t < to`. */
  readonly from: number
  readonly to: number
  /** Whether the expression says nothing but this range. */
  readonly exact: boolean
}

const TURNED: Readonly<Record<Comparison, Comparison>> = {
  eq: 'eq',
  ne: 'ne',
  gt: 'lt',
  ge: 'le',
  lt: 'gt',
  le: 'ge',
}

/** The stretch of time outside of which an expression over observations cannot hold; times are whole ms. */
export function timeRange(expression: Expression | null): TimeRange {
  const all = { from: -Infinity, to: Infinity }
  if (expression === null) return { ...all, exact: true }
  if (expression.kind === 'and') {
    const [a, b] = [timeRange(expression.left), timeRange(expression.right)]
    return {
      from: Math.max(a.from, b.from),
      to: Math.min(a.to, b.to),
      exact: a.exact && b.exact,
    }
  }
  if (expression.kind !== 'compare') return { ...all, exact: false }
  const { left, right } = expression
  const turned = left.kind === 'literal'
  const [path, literal] = turned ? [right, left] : [left, right]
  if (path.kind !== 'path' || literal.kind !== 'literal' || !isMoment(literal.value)) {
    return { ...all, exact: false }
  }
  const name = path.path.join('/')
  if (name !== 'phenomenonTime' && name !== 'resultTime') return { ...all, exact: false }
  const { moment } = literal.value
  const operator = turned ? TURNED[expression.operator] : expression.operator
  switch (operator) {
    case 'eq':
      return { from: moment, to: moment + 1, exact: true }
    case 'gt':
      return { from: moment + 1, to: Infinity, exact: true }
    case 'ge':
      return { from: moment, to: Infinity, exact: true }
    case 'lt':
      return { from: -Infinity, to: moment, exact: true }
    case 'le':
      return { from: -Infinity, to: moment + 1, exact: true }
    case 'ne':
      return { ...all, exact: false }
  }
}
