import { globSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { basename } from 'node:path'
import { expect, test } from 'vitest'
import { jsonSchemaOf } from '#hub/wire/json-schema.ts'
import { KINDS } from '#hub/wire/schemas.ts'

/*
 * The files are made from the schemas the hub decodes with. After a change of those, write them anew with
 *   LOAMLINE_WRITE_SCHEMAS=1 npm test -- tests/firmware-spec/schemas.test.ts && npm run fix
 */
const FOLDER = 'firmware-spec/schemas'

test.each(KINDS)('%s.schema.json says what the hub checks', (kind) => {
  const file = `${FOLDER}/${kind}.schema.json`
  const schema = jsonSchemaOf(kind)
  if (process.env['LOAMLINE_WRITE_SCHEMAS'] === '1') {
    mkdirSync(FOLDER, { recursive: true })
    writeFileSync(file, JSON.stringify(schema, null, 2) + '\n')
  }
  expect(JSON.parse(readFileSync(file, 'utf8'))).toEqual(schema)
})

test('no file without a schema', () => {
  const files = globSync(`${FOLDER}/*`).map((file) => basename(file, '.schema.json'))
  expect(files.toSorted()).toEqual([...KINDS].toSorted())
})
