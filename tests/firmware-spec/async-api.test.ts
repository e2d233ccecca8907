import { globSync, readFileSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { Ajv } from 'ajv'
import { Ajv2020 } from 'ajv/dist/2020.js'
import { describe, expect, test } from 'vitest'
import { asyncApiDocument } from '#hub/wire/async-api.ts'
import { KINDS } from '#hub/wire/schemas.ts'

/*
 * The file is made from the schemas the hub decodes with. After a change of those, write it anew with
 *   LOAMLINE_WRITE_SCHEMAS=1 npm test -- tests/firmware-spec/async-api.test.ts && npm run fix
 */
const FILE = 'firmware-spec/asyncapi.json'

interface Document {
  readonly channels: Record<string, { readonly address: string }>
  readonly components: { readonly messages: Record<string, { readonly payload: object }> }
}

test('asyncapi.json says what the hub checks', () => {
  const document = asyncApiDocument()
  if (process.env['LOAMLINE_WRITE_SCHEMAS'] === '1') {
    writeFileSync(FILE, JSON.stringify(document, null, 2) + '\n')
  }
  expect(JSON.parse(readFileSync(FILE, 'utf8'))).toEqual(document)
})

test('it is a valid AsyncAPI 3.0 document by the schema the AsyncAPI Initiative publishes', () => {
  const require = createRequire(import.meta.url)
  const schema = require('@asyncapi/specs/schemas/3.0.0.json') as object
  const ajv = new Ajv({ strict: false, validateFormats: false, meta: false, validateSchema: false })
  const validate = ajv.compile(schema)
  const document = JSON.parse(readFileSync(FILE, 'utf8')) as object
  expect(validate(document), JSON.stringify(validate.errors?.slice(0, 3))).toBe(true)
  expect(validate({ ...document, channels: { reading: { address: 7 } } })).toBe(false)
})

test('every reference in it leads somewhere', () => {
  const document = JSON.parse(readFileSync(FILE, 'utf8')) as Record<string, unknown>
  const references = JSON.stringify(document).matchAll(/"\$ref":"([^"]+)"/g)
  const found = Array.from(references, ([, reference]) => reference!)
  expect(found.length).toBeGreaterThan(30)
  for (const reference of found) {
    let at: unknown = document
    for (const key of reference.slice(2).split('/')) at = (at as Record<string, unknown>)[key]
    expect(at, reference).toBeDefined()
  }
})

describe('its payload schemas (draft-07) and the published ones (2020-12) judge alike', () => {
  const document = asyncApiDocument() as unknown as Document
  const ajv = new Ajv({ strict: false })
  const kinds = new Map(
    Object.entries(document.channels).map(([kind, { address }]) => {
      const pattern = address.replace('{probe}', '[a-z][a-z0-9]{2,22}')
      return [kind, new RegExp(`^${pattern.replace('{channel}', '[a-z][a-z0-9]{0,7}')}$`)]
    }),
  )
  expect([...kinds.keys()].toSorted()).toEqual([...KINDS].toSorted())
  const validators = new Map(
    [...kinds.keys()].map((kind) => [
      kind,
      ajv.compile(document.components.messages[kind]!.payload),
    ]),
  )
  const ajv2020 = new Ajv2020({ strict: false })
  const published = new Map(
    [...kinds.keys()].map((kind) => [
      kind,
      ajv2020.compile(
        JSON.parse(readFileSync(`firmware-spec/schemas/${kind}.schema.json`, 'utf8')) as object,
      ),
    ]),
  )
  const vectors = globSync('firmware-spec/vectors/*/*.json').map((file) => ({
    file,
    ...(JSON.parse(readFileSync(file, 'utf8')) as {
      topic: string
      payload?: string
      clause?: string
    }),
  }))

  test.each(vectors.filter(({ clause }) => clause === undefined))('$file', ({ topic, payload }) => {
    const kind = [...kinds].find(([, pattern]) => pattern.test(topic))?.[0]
    // Plain numbers are no JSON objects and have no channel in the document.
    if (kind === undefined) expect(topic).toContain('/up/v/')
    else expect(validators.get(kind)!(JSON.parse(payload!))).toBe(true)
  })

  test('nothing that the 2020-12 files refuse by themselves passes', () => {
    let refused = 0
    for (const { topic, payload, clause } of vectors) {
      const kind = [...kinds].find(([, pattern]) => pattern.test(topic))?.[0]
      if (clause === undefined || kind === undefined || payload === undefined) continue
      let value: unknown
      try {
        value = JSON.parse(payload)
      } catch {
        continue
      }
      if (published.get(kind)!(value)) continue
      refused++
      expect(validators.get(kind)!(value), payload).toBe(false)
    }
    expect(refused).toBeGreaterThan(15)
  })
})
