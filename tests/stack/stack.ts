import { execFile } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { promisify } from 'node:util'
import { freePort } from '../support/ports.ts'
import { until } from '../support/until.ts'

const run = promisify(execFile)

export type StackService = 'broker' | 'influxdb' | 'hub'
export const STACK_SERVICES: readonly StackService[] = ['broker', 'influxdb', 'hub']

export interface Stack {
  readonly url: string
  readonly mqttPort: number
  /** For encrypted connections; nobody listens there without a certificate. */
  readonly mqttTlsPort: number
  /** Brings everything up, as somebody does who has just fetched the project or changed a setting. */
  up(): Promise<void>
  /** Settings as they stand in a file `.env`; `up` makes them hold. */
  set(settings: Readonly<Record<string, string>>): void
  compose(...args: readonly string[]): Promise<string>
  /** Runs a command in a service's container; rejects with what it wrote when it fails. */
  exec(service: StackService, ...command: readonly string[]): Promise<string>
  inspect(service: StackService): Promise<ContainerFacts>
  log(service: StackService): Promise<string>
  /** Ends a service by SIGKILL from outside, as the kernel does when memory runs out. */
  crash(service: StackService): Promise<void>
  healthy(service: StackService): Promise<void>
  /** Removes everything, volumes too. */
  down(): Promise<void>
}

export interface ContainerFacts {
  readonly Id: string
  readonly RestartCount: number
  readonly State: {
    readonly Pid: number
    readonly Running: boolean
    readonly StartedAt: string
    readonly Health?: { readonly Status: string }
  }
  readonly Config: { readonly User: string; readonly Env: readonly string[] | null }
  readonly HostConfig: {
    readonly ReadonlyRootfs: boolean
    readonly Privileged: boolean
    readonly CapDrop: readonly string[] | null
    readonly CapAdd: readonly string[] | null
    readonly SecurityOpt: readonly string[] | null
    readonly PortBindings: Readonly<Record<string, readonly { HostIp: string }[]>> | null
  }
}

const HEALTHY_WITHIN_MS = 120_000
const LOG_TAIL = 3000

/** `docker compose` where there is one, else `docker-compose`; neither is an error. */
async function composeCommand(): Promise<readonly [string, ...string[]]> {
  for (const command of [['docker', 'compose'], ['docker-compose']] as const) {
    try {
      await run(command[0], [...command.slice(1), 'version'])
      return command as readonly [string, ...string[]]
    } catch {
      // The next one.
    }
  }
  throw new Error(
    'tests of the stack need an engine and Compose: expected docker compose or docker-compose to work',
  )
}

/** A stack of docker-compose.yml under a name and on ports of its own. */
export async function openStack(): Promise<Stack> {
  const [program, ...first] = await composeCommand()
  const httpPort = await freePort()
  const mqttPort = await freePort()
  const mqttTlsPort = await freePort()
  const env: NodeJS.ProcessEnv = {
    ...process.env,
    COMPOSE_PROJECT_NAME: `loamline-test-${process.pid}`,
    LOAMLINE_HTTP_PORT: String(httpPort),
    LOAMLINE_MQTT_PORT: String(mqttPort),
    LOAMLINE_MQTT_TLS_PORT: String(mqttTlsPort),
    LOAMLINE_ZONE: 'Europe/Lisbon',
  }
  const ask = async (command: string, args: readonly string[]): Promise<string> => {
    const { stdout } = await run(command, [...args], { env, maxBuffer: 64 * 1024 * 1024 })
    return stdout
  }
  const compose = (...args: readonly string[]): Promise<string> => ask(program, [...first, ...args])
  const docker = (...args: readonly string[]): Promise<string> => ask('docker', args)
  const ids = new Map<StackService, string>()
  const idOf = async (service: StackService): Promise<string> => {
    const id = ids.get(service) ?? (await compose('ps', '-q', service)).trim()
    if (id === '') throw new Error(`expected a container of ${service}`)
    ids.set(service, id)
    return id
  }
  const inspect = async (service: StackService): Promise<ContainerFacts> => {
    const [facts] = JSON.parse(await docker('inspect', await idOf(service))) as ContainerFacts[]
    return facts!
  }
  const log = async (service: StackService): Promise<string> => {
    const { stdout, stderr } = await run('docker', ['logs', await idOf(service)], { env })
    return stdout + stderr
  }

  return {
    url: `http://127.0.0.1:${httpPort}`,
    mqttPort,
    mqttTlsPort,
    compose,
    set: (settings) => void Object.assign(env, settings),
    inspect,
    log,
    async up() {
      // What was removed has come back as other containers.
      ids.clear()
      await compose('up', '-d')
    },
    async exec(service, ...command) {
      return docker('exec', await idOf(service), ...command)
    },
    async crash(service) {
      const { Id, State } = await inspect(service)
      // An engine elsewhere names processes of its own machine: those numbers mean nothing here.
      const groups = `/proc/${State.Pid}/cgroup`
      if (existsSync(groups) && readFileSync(groups, 'utf8').includes(Id)) {
        process.kill(State.Pid, 'SIGKILL')
      } else {
        await docker('kill', '--signal', 'KILL', Id)
        await docker('start', Id)
      }
      await until(
        `${service} is a new process`,
        async () => {
          const now = (await inspect(service)).State
          return now.Running && now.StartedAt !== State.StartedAt
        },
        HEALTHY_WITHIN_MS,
      )
    },
    async healthy(service) {
      try {
        await until(
          `${service} is healthy`,
          async () => (await inspect(service)).State.Health?.Status === 'healthy',
          HEALTHY_WITHIN_MS,
        )
      } catch (cause) {
        const said = await Promise.all(
          STACK_SERVICES.map(async (one) => `${one}:\n${(await log(one)).slice(-LOG_TAIL)}`),
        )
        throw new Error(`${(cause as Error).message}\n${said.join('\n')}`, { cause })
      }
    },
    async down() {
      await compose('down', '-v', '--remove-orphans', '-t', '5')
    },
  }
}
