import { expect, test } from 'vitest'
import type { Document } from '#hub/api/open-api/document.ts'
import { askings, curlLine, found } from '../../dashboard/src/parts/interfaces/operations.ts'

const document: Document = {
  openapi: '3.1.0',
  info: { title: 'x', version: '1' },
  tags: [
    { name: 'Beds', description: '' },
    { name: 'Hub', description: '' },
  ],
  components: {},
  paths: {
    '/api/health': {
      get: { summary: 'How the hub is', tags: ['Hub'], security: [], responses: {} },
    },
    '/api/beds': {
      post: {
        summary: 'Add a bed',
        tags: ['Beds'],
        security: [{ token: [] }],
        requestBody: { content: { 'application/json': { example: { name: "Wren's" } } } },
        responses: {},
      },
      get: {
        summary: 'All beds',
        tags: ['Beds'],
        security: [{ token: [] }],
        parameters: [
          { name: 'from', in: 'query', required: true },
          { name: 'points', in: 'query' },
        ],
        responses: {},
      },
    },
  },
}

test('groups in the order of the document; every word of a search has to stand somewhere', () => {
  const all = askings(document)
  expect(all.map(({ method, path }) => `${method} ${path}`)).toEqual([
    'POST /api/beds',
    'GET /api/beds',
    'GET /api/health',
  ])
  expect(found(all, 'BED add').map(({ method }) => method)).toEqual(['POST'])
  expect(found(all, ' ')).toHaveLength(3)
  expect(found(all, 'add health')).toEqual([])
})

test('a line for the shell: quoted, with a token where one is needed, and what has to be given', () => {
  const [add, all, health] = askings(document)
  const origin = 'http://hub:8090'
  expect(curlLine(health!, origin)).toBe(`curl 'http://hub:8090/api/health'`)
  expect(curlLine(all!, origin)).toBe(
    `curl -H 'Authorization: Bearer {token}' 'http://hub:8090/api/beds?from={from}'`,
  )
  expect(curlLine(add!, origin)).toBe(
    String.raw`curl -X POST -H 'Authorization: Bearer {token}' -H 'Content-Type: application/json' -d '{"name":"Wren'\''s"}' 'http://hub:8090/api/beds'`,
  )
})
