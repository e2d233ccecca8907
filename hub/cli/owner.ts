import { openAccounts } from '../accounts/open-accounts.ts'
import { LONGEST_PASSWORD, SHORTEST_PASSWORD, weakness } from '../accounts/password.ts'
import { makeCode } from '../accounts/secret.ts'
import { loadConfig } from '../config/load.ts'
import type { Person } from '../model/account.ts'
import { folderOrHub } from './folder-or-hub.ts'
import type { CommandContext } from './main.ts'
import { badOption, readOptions } from './options.ts'
import { readSecret } from './read-secret.ts'

const HELP = `Makes the owner of the hub, or gives an owner a new password: for a forgotten one. Works while the hub runs and
while it does not, for whoever may read its data folder. Everywhere the owner was signed in, that ends.

  npm run loamline -- owner [--name NAME] [--make]

  --name NAME   whose; needed for a first owner, and where there are several
  --make        make a password and print it, instead of asking for one

The password is asked for at the terminal and not shown, or read from the first line of what is piped in.`

/** Whom it is about: the name of a first owner, or of one there is. */
function nameOf(people: readonly Person[], wanted: string | undefined): string {
  const owners = people.filter(({ role }) => role === 'owner').map(({ name }) => name)
  if (owners.length === 0) {
    const name = wanted?.trim() ?? ''
    if (name === '' || name.length > 60) {
      throw badOption('--name: expected a name of 1 to 60 characters for the first owner')
    }
    return name
  }
  if (wanted !== undefined && owners.includes(wanted)) return wanted
  const [only, ...more] = owners
  if (wanted === undefined && more.length === 0) return only!
  throw badOption(`--name: expected one of ${owners.join(', ')}, got ${wanted ?? 'none'}`)
}

/** @throws HubError that says what is expected of a password */
function checkPassword(password: string, name: string): void {
  const weak = weakness(password, name)
  if (weak === null) return
  const expected = {
    short: `at least ${SHORTEST_PASSWORD} characters`,
    long: `at most ${LONGEST_PASSWORD} characters`,
    'same letters': 'more than three different characters',
    'the name': 'something other than the name',
  }
  throw badOption(`password: expected ${expected[weak]}; nothing was changed`)
}

/** `owner`: see the help. */
export async function ownerCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const { values } = readOptions(
    {
      args: [...args],
      options: {
        name: { type: 'string' },
        make: { type: 'boolean' },
        help: { type: 'boolean', short: 'h' },
        config: { type: 'string' },
      },
    },
    HELP,
  )
  if (values.help === true) {
    console.log(HELP)
    return
  }
  const { config } = loadConfig(env, configFile)
  const newPassword = async (name: string): Promise<string> => {
    const password = values.make === true ? makeCode() : await readSecret(`Password of ${name}`)
    checkPassword(password, name)
    return password
  }
  const done = await folderOrHub(config, {
    make: true,
    async folder(stores) {
      const accounts = await openAccounts({
        store: stores.garden,
        clock: Date.now,
        onTrouble: (error) => {
          throw error
        },
      })
      try {
        const isFirst = !accounts.hasOwner()
        const name = nameOf(accounts.people(), values.name)
        const password = await newPassword(name)
        if (isFirst) {
          const made = await accounts.addPerson(name, 'owner', password)
          if (made === 'taken') throw badOption(`--name: somebody is called ${name} already`)
        } else {
          const owner = accounts.people().find((p) => p.role === 'owner' && p.name === name)
          await accounts.setPassword(owner!.id, password)
        }
        return { name, password, isFirst }
      } finally {
        accounts.stop()
      }
    },
    async hub(ask) {
      const people = (await (await ask('/api/people')).json()) as Person[]
      const isFirst = people.every(({ role }) => role !== 'owner')
      const name = nameOf(people, values.name)
      const password = await newPassword(name)
      await ask('/api/owner', {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ name, password }),
      })
      return { name, password, isFirst }
    },
  })
  console.log(
    done.isFirst
      ? `${done.name} is the owner now.`
      : `${done.name} has a new password; all sessions of ${done.name} have ended.`,
  )
  if (values.make === true) console.log(`Password: ${done.password}`)
}
