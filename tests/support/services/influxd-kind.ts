import type { ServiceKind } from './service-kind.ts'

const ANSWER_MS = 500

/** InfluxDB 1.x with its data in the place's folder; it reports nothing to anybody. */
export function influxdKind({ auth }: { readonly auth: boolean }): ServiceKind {
  return {
    name: 'influxd',
    image: process.env['INFLUXDB_IMAGE'] ?? 'influxdb:1.8',
    innerPort: 8086,
    program: 'influxd',
    setUp: ({ folder, address, port }) => ({
      args: ['-config', '/dev/null'],
      env: {
        INFLUXDB_META_DIR: `${folder}/data/meta`,
        INFLUXDB_DATA_DIR: `${folder}/data/data`,
        INFLUXDB_DATA_WAL_DIR: `${folder}/data/wal`,
        INFLUXDB_HTTP_BIND_ADDRESS: `${address}:${port}`,
        // The port for its own backups: two of them on one machine would want the same.
        INFLUXDB_BIND_ADDRESS: '127.0.0.1:0',
        INFLUXDB_HTTP_AUTH_ENABLED: String(auth),
        INFLUXDB_HTTP_LOG_ENABLED: 'false',
        INFLUXDB_MONITOR_STORE_ENABLED: 'false',
        INFLUXDB_REPORTING_DISABLED: 'true',
      },
      files: {},
    }),
    async answers(port) {
      try {
        const response = await fetch(`http://127.0.0.1:${port}/ping`, {
          signal: AbortSignal.timeout(ANSWER_MS),
        })
        await response.arrayBuffer()
        return response.status === 204
      } catch {
        return false
      }
    },
  }
}

/** Makes the first user, its administrator; an InfluxDB that asks for passwords allows nothing else before. */
export async function makeFirstUser(
  port: number,
  { user, password }: { readonly user: string; readonly password: string },
): Promise<void> {
  const quoted = `"${user.replaceAll('"', '\\"')}"`
  const secret = `'${password.replaceAll('\\', '\\\\').replaceAll("'", "\\'")}'`
  const response = await fetch(`http://127.0.0.1:${port}/query`, {
    method: 'POST',
    body: new URLSearchParams({
      q: `CREATE USER ${quoted} WITH PASSWORD ${secret} WITH ALL PRIVILEGES`,
    }),
  })
  // It may answer 200 before the statement has run: the body tells when it has, and how it went.
  const body = await response.text()
  if (!response.ok || body.includes('error'))
    throw new Error(`influxd made no first user: ${response.status} ${body}`)
}
