import { flushCompileCache } from 'node:module'
import { parseArgs } from 'node:util'
import { HubError } from '../errors.ts'
import { plainText } from './plain-text.ts'

export interface CommandContext {
  readonly env: Readonly<Record<string, string | undefined>>
  readonly configFile: string | undefined
  /** What followed the name of a command that has options of its own. */
  readonly args: readonly string[]
}

interface Command {
  readonly sentence: string
  /** True: the command reads its own options. */
  readonly ownOptions?: true
  /** Only what a command needs is loaded: one of several processes has no pages to serve. */
  readonly load: () => Promise<(context: CommandContext) => Promise<void>>
}

/** Every command by name. */
const COMMANDS: Readonly<Record<string, Command>> = {
  start: {
    sentence: 'start the hub on your own garden',
    load: async () => (await import('./start.ts')).start,
  },
  demo: {
    sentence: 'start the hub on an invented garden with simulated probes, made anew each time',
    load: async () => (await import('./demo.ts')).demo,
  },
  replay: {
    sentence: 'go through a past again and tell what would have been raised, and when',
    ownOptions: true,
    load: async () => (await import('./replay.ts')).replayCommand,
  },
  probes: {
    sentence: 'run simulated probes against any broker, with faults if you like',
    ownOptions: true,
    load: async () => (await import('./probes.ts')).probesCommand,
  },
  'check-probe': {
    sentence: 'check the firmware of a probe against the specification, between it and its broker',
    ownOptions: true,
    load: async () => (await import('./check-probe.ts')).checkProbeCommand,
  },
  export: {
    sentence: 'write readings or records to a file of an open format',
    ownOptions: true,
    load: async () => (await import('./export.ts')).exportCommand,
  },
  import: {
    sentence: 'take readings in from a table, line protocol or SenML',
    ownOptions: true,
    load: async () => (await import('./import.ts')).importCommand,
  },
  backup: {
    sentence: 'copy the whole data folder, also while the hub runs',
    ownOptions: true,
    load: async () => (await import('./backup.ts')).backupCommand,
  },
  rebuild: {
    sentence: 'make hours and days anew from the readings',
    ownOptions: true,
    load: async () => (await import('./rebuild.ts')).rebuildCommand,
  },
  damaged: {
    sentence: 'say which readings were found damaged on the disk, and bring them back',
    ownOptions: true,
    load: async () => (await import('./damaged.ts')).damagedCommand,
  },
  storage: {
    sentence: 'say what is on the disk, and how long raw readings are kept',
    ownOptions: true,
    load: async () => (await import('./storage.ts')).storageCommand,
  },
  restore: {
    sentence: 'put a backup in place as the data folder',
    ownOptions: true,
    load: async () => (await import('./restore.ts')).restoreCommand,
  },
  calibrate: {
    sentence: 'calibrate the electrode of a probe in buffers, step by step',
    ownOptions: true,
    load: async () => (await import('./calibrate.ts')).calibrateCommand,
  },
  owner: {
    sentence: 'make the owner of the hub, or give one a new password',
    ownOptions: true,
    load: async () => (await import('./owner.ts')).ownerCommand,
  },
  prepare: {
    sentence: 'make passwords and users for a stack of containers, before the hub starts',
    ownOptions: true,
    load: async () => (await import('./prepare.ts')).prepareCommand,
  },
  settings: {
    sentence: 'list every setting with its unit, default and meaning',
    load: async () => (await import('./settings.ts')).settings,
  },
}

const commandOf = (name = ''): Command | undefined =>
  Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined

function usage(): string {
  const rows = Object.entries(COMMANDS).map(([name, c]) => `  ${name.padEnd(11)} ${c.sentence}`)
  return [
    'usage: npm run loamline -- <command> [--config file.json]',
    '',
    ...rows,
    '',
    'Settings come from the environment, then the config file, then the defaults.',
  ].join('\n')
}

/** Runs one command. Someone else's mistake ends with one line and exit code 2; ours with a stack. */
export async function main(args: readonly string[]): Promise<void> {
  const own = commandOf(args[0])
  if (own?.ownOptions === true) {
    await runCommand(own, { env: process.env, configFile: configOf(args), args: args.slice(1) })
    return
  }
  let parsed
  try {
    parsed = parseArgs({
      args: [...args],
      allowPositionals: true,
      options: { help: { type: 'boolean', short: 'h' }, config: { type: 'string' } },
    })
  } catch (error) {
    console.error(`${(error as Error).message}\n\n${usage()}`)
    process.exit(2)
  }
  const [name, ...rest] = parsed.positionals
  if (parsed.values.help === true || name === undefined || name === 'help') {
    console.log(usage())
    return
  }
  const command = commandOf(name)
  if (command === undefined || rest.length > 0) {
    console.error(`expected one command, got '${parsed.positionals.join(' ')}'\n\n${usage()}`)
    process.exit(2)
  }
  await runCommand(command, { env: process.env, configFile: parsed.values.config, args: [] })
}

/** The config file of a command that reads its own options. */
function configOf(args: readonly string[]): string | undefined {
  const index = args.indexOf('--config')
  return index < 0 ? undefined : args[index + 1]
}

async function runCommand(command: Command, context: CommandContext): Promise<void> {
  try {
    const run = await command.load()
    // Also for a process that is ended roughly: the next one starts sooner and does without the compiler.
    flushCompileCache()
    await run(context)
  } catch (error) {
    if (error instanceof HubError) {
      console.error(plainText(`${error.code}: ${error.message}`))
      process.exit(2)
    }
    throw error
  }
}
