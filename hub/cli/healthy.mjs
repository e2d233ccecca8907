// Ends with 0 when the hub of this machine answers: for the health check of a container. It runs every few
// seconds, so it imports nothing of the hub.
import { readFileSync } from 'node:fs'
import { get } from 'node:http'
import { get as getEncrypted } from 'node:https'

const LIMIT_MS = 4000

const { env } = process
const file = env.LOAMLINE_CONFIG ? JSON.parse(readFileSync(env.LOAMLINE_CONFIG, 'utf8')) : {}
const port = Number(env.LOAMLINE_HTTP_PORT || file.httpPort || 8090)
const encrypted = Boolean(env.LOAMLINE_HTTP_CERTIFICATE || file.httpCertificate)
// Its own certificate need not be for 127.0.0.1.
const options = {
  host: '127.0.0.1',
  port,
  path: '/api/who',
  timeout: LIMIT_MS,
  rejectUnauthorized: false,
}
const asked = (encrypted ? getEncrypted : get)(options, (response) => {
  response.resume()
  response.on('end', () => process.exit(response.statusCode === 200 ? 0 : 1))
})
asked.on('timeout', () => process.exit(1))
asked.on('error', (error) => {
  console.error(error.message)
  process.exit(1)
})
