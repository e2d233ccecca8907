// Ends with 0 when the hub, or the ingest process, of this machine answers: for the health check of a container. It runs every few
// seconds, so it imports nothing of the hub.
import { readFileSync } from 'node:fs'
import { get } from 'node:http'
import { get as getEncrypted } from 'node:https'

const LIMIT_MS = 4000

const { env } = process
const path = env['LOAMLINE_CONFIG']
const file = (path ? JSON.parse(readFileSync(path, 'utf8')) : {}) as Record<string, unknown>
const inFile = file['httpHost']
const named = env['LOAMLINE_HTTP_HOST'] || (typeof inFile === 'string' ? inFile : '127.0.0.1')
const host = named === '0.0.0.0' || named === '::' ? '127.0.0.1' : named
const port = Number(env['LOAMLINE_HTTP_PORT'] || (file['httpPort'] ?? 8090))
// An ingest process has no pages, only its health, and no certificate.
const ingest = (env['LOAMLINE_ROLE'] || file['role']) === 'ingest'
const encrypted = !ingest && Boolean(env['LOAMLINE_HTTP_CERTIFICATE'] || file['httpCertificate'])
const asked = (encrypted ? getEncrypted : get)(
  {
    host,
    port,
    path: ingest ? '/api/health' : '/api/who',
    timeout: LIMIT_MS,
    // It asks itself: its certificate is for the name that others call it by.
    rejectUnauthorized: false,
  },
  (response) => {
    response.resume()
    response.on('end', () => process.exit(response.statusCode === 200 ? 0 : 1))
  },
)
asked.on('timeout', () => asked.destroy(new Error(`expected an answer within ${LIMIT_MS} ms`)))
asked.on('error', (error) => {
  console.error(error.message)
  process.exit(1)
})
