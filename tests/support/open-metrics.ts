/** One family of metrics as it was read. */
export interface MetricFamily {
  readonly name: string
  readonly type: string
  readonly samples: {
    readonly name: string
    readonly labels: Readonly<Record<string, string>>
    readonly value: number
  }[]
}

const NAME = '[a-zA-Z_:][a-zA-Z0-9_:]*'
const TYPES = [
  'counter',
  'gauge',
  'histogram',
  'gaugehistogram',
  'stateset',
  'info',
  'summary',
  'unknown',
]
/** Suffixes of sample names by the type of their family, OpenMetrics 1.0, "Text Format". */
const SUFFIXES: Readonly<Record<string, readonly string[]>> = {
  counter: ['_total', '_created'],
  gauge: [''],
  unknown: [''],
  info: ['_info'],
  stateset: [''],
  summary: ['', '_count', '_sum', '_created'],
  histogram: ['_bucket', '_count', '_sum', '_created'],
  gaugehistogram: ['_bucket', '_gcount', '_gsum'],
}
const NUMBER = /^(?:[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?|[+-]?Inf(?:inity)?|NaN)$/i

/**
 * Reads OpenMetrics text strictly, by the ABNF of OpenMetrics 1.0 (github.com/OpenObservability/OpenMetrics, "ABNF"
 * and "Text Format", from memory): one line a sample, one blank between its parts, families not interleaved, no
 * sample twice, `# EOF` last. Exemplars are not expected.
 *
 * @throws Error that names the line
 */
export function readOpenMetrics(text: string): MetricFamily[] {
  const lines = text.split('\n')
  if (lines.pop() !== '') throw new Error('last line: no line feed at the end')
  if (lines.pop() !== '# EOF') throw new Error('last line: no # EOF')
  const families = new Map<string, MetricFamily>()
  const seen = new Set<string>()
  let current: MetricFamily | null = null
  lines.forEach((line, i) => {
    const fail = (what: string): never => {
      throw new Error(`line ${i + 1}: ${what}: ${line}`)
    }
    const described = new RegExp(`^# (TYPE|HELP|UNIT) (${NAME}) (.*)$`).exec(line)
    if (described !== null) {
      const [, what, name = '', rest = ''] = described
      if (what === 'TYPE' && !TYPES.includes(rest)) fail('an unknown type')
      if (what === 'UNIT' && !name.endsWith(`_${rest}`)) fail('a unit that is not in the name')
      if (what === 'HELP' && /\\(?![\\n"])/.test(rest)) fail('an unknown escape')
      if (current?.name !== name) {
        if (families.has(name)) fail('a family that was left before')
        current = { name, type: 'unknown', samples: [] }
        families.set(name, current)
      }
      if (current.samples.length > 0) fail('a description after a sample')
      if (what === 'TYPE') {
        current = { ...current, type: rest }
        families.set(name, current)
      }
      return
    }
    const sample = new RegExp(`^(${NAME})(?:\\{(.*)\\})? (\\S+)(?: (\\S+))?$`).exec(line)
    if (sample === null) return fail('no sample')
    const [, name = '', labelText = '', number = '', stamp] = sample
    const family = current ?? fail('a sample before its family')
    const fits = SUFFIXES[family.type]!.some((suffix) => name === family.name + suffix)
    if (!fits) fail(`no sample of the ${family.type} ${family.name}`)
    if (!NUMBER.test(number) || (stamp !== undefined && !NUMBER.test(stamp))) fail('no number')
    const value = Number(number.replace(/inf(inity)?/i, 'Infinity'))
    if (family.type === 'counter' && !(value >= 0)) fail('a counter below zero')
    const labels = labelsOf(labelText, fail)
    const key = `${name}${JSON.stringify(
      Object.keys(labels)
        .sort((a, b) => (a < b ? -1 : 1))
        .map((key) => [key, labels[key]]),
    )}`
    if (seen.has(key)) fail('the same sample again')
    seen.add(key)
    family.samples.push({ name, labels, value })
  })
  return [...families.values()]
}

function labelsOf(text: string, fail: (what: string) => never): Record<string, string> {
  const labels: Record<string, string> = {}
  const one = /([a-zA-Z_][a-zA-Z0-9_]*)="((?:[^"\\\n]|\\[\\n"])*)"(,(?=.)|$)/y
  let at = 0
  while (at < text.length) {
    one.lastIndex = at
    const found = one.exec(text)
    if (found === null) return fail('labels that cannot be read')
    const [, name = '', raw = ''] = found
    if (name in labels) fail('the same label twice')
    labels[name] = raw.replace(/\\(.)/g, (_, c: string) => (c === 'n' ? '\n' : c))
    at = one.lastIndex
  }
  return labels
}
