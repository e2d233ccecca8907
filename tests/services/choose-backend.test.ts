import { expect, test } from 'vitest'
import { chooseBackend } from '../support/services/choose-backend.ts'

const HERE = ['sh']
const NOT_HERE = ['a-program-nobody-has']
const engine = (): Promise<unknown> => Promise.resolve()
const noEngine = (): Promise<unknown> => Promise.reject(new Error('no engine answers'))

test.each([
  ['auto', HERE, engine, 'containers'],
  ['auto', HERE, noEngine, 'processes'],
  ['auto', NOT_HERE, engine, 'containers'],
  ['processes', HERE, engine, 'processes'],
  ['containers', NOT_HERE, engine, 'containers'],
] as const)('%s, programs %j: %o gives %s', async (asked, programs, tried, expected) => {
  expect((await chooseBackend(asked, programs, tried)).backend).toBe(expected)
})

test('an engine that was asked for and is not there is an error, installed programs or not', async () => {
  await expect(chooseBackend('containers', HERE, noEngine)).rejects.toThrow(
    /TEST_SERVICES=containers.*\n\s*containers: no engine answers$/,
  )
})

test('programs that were asked for and are not there are an error, an engine or not', async () => {
  await expect(chooseBackend('processes', NOT_HERE, engine)).rejects.toThrow(
    /a-program-nobody-has not found .*apt-get install/,
  )
})

test('neither is an error that names both', async () => {
  await expect(chooseBackend('auto', NOT_HERE, noEngine)).rejects.toThrow(
    /containers: no engine answers\n\s*processes: a-program-nobody-has not found/,
  )
})

test('a slip of the pen is an error, not a default', async () => {
  await expect(chooseBackend('container', HERE, engine)).rejects.toThrow(
    'TEST_SERVICES: expected containers, processes or auto, got container',
  )
})
