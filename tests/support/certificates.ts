import { execFile, execFileSync } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { promisify } from 'node:util'

/** An authority and certificates of it, in a folder of a test. */
export interface TestAuthority {
  readonly ca: string
  /** Issues a certificate; the key is made where there is none yet. Returns the paths of both. */
  issue(
    name: string,
    options?: {
      readonly subjectAltName?: string
      /** From now on; -1 has ended yesterday. @default 30 */
      readonly days?: number
    },
  ): Promise<{ readonly cert: string; readonly key: string }>
}

const run = promisify(execFile)

/** The lines of the README that make a certificate, as they stand there. */
export function readmeLines(): string {
  const readme = readFileSync('README.md', 'utf8')
  const block = /```sh\n(openssl req [\s\S]*?)```/.exec(readme)?.[1]
  if (block === undefined) throw new Error('expected lines with openssl in README.md')
  return block
}

/** Does what the README says in a folder: then `ca.pem`, `hub.pem` and their keys are there. */
export function makeAsReadme(folder: string): TestAuthority {
  execFileSync('bash', ['-euo', 'pipefail', '-c', readmeLines()], { cwd: folder, stdio: 'pipe' })
  const ca = join(folder, 'ca.pem')
  return {
    ca,
    async issue(name, options = {}) {
      const { subjectAltName = 'DNS:localhost,IP:127.0.0.1', days = 30 } = options
      const [cert, key] = [join(folder, `${name}.pem`), join(folder, `${name}.key`)]
      await run('openssl', [
        ...['genpkey', '-algorithm', 'EC', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-out', key],
      ])
      const request = join(folder, `${name}.csr`)
      const extensions = ['-addext', `subjectAltName=${subjectAltName}`]
      await run('openssl', [
        ...['req', '-new', '-key', key, '-subj', `/CN=${name}`, '-out', request, ...extensions],
      ])
      await run('openssl', [
        ...['x509', '-req', '-in', request, '-CA', ca, '-CAkey', join(folder, 'ca.key')],
        ...['-copy_extensions', 'copy', '-out', cert, '-days', String(days)],
      ])
      return { cert, key }
    },
  }
}
