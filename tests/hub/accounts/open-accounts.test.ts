import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { openAccounts, type Accounts, type Ended } from '#hub/accounts/open-accounts.ts'
import { IDLE_MS, LONGEST_MS } from '#hub/accounts/session-book.ts'
import { DAY, HOUR, MINUTE, SECOND } from '#hub/model/clock.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'

const NOW = 1_780_000_000_000
const PASSWORD = 'worms like rain'
const HERE = { address: '127.0.0.1', local: true }
const THERE = { address: '192.168.7.3', local: false }

let dir: ReturnType<typeof tempDir>
let stores: Stores
let accounts: Accounts
let now: number
let ended: Ended[]
async function open(): Promise<void> {
  stores = await openStores(dir.path)
  accounts = await openAccounts({
    store: stores.garden,
    clock: () => now,
    onTrouble: (error) => {
      throw error
    },
  })
  accounts.onEnd((what) => ended.push(what))
}
async function close(): Promise<void> {
  accounts.stop()
  await stores.close()
}
beforeEach(async () => {
  dir = tempDir()
  now = NOW
  ended = []
  await open()
})
afterEach(async () => {
  await close()
  dir[Symbol.dispose]()
})

async function signedIn(name = 'Ash', password = PASSWORD) {
  const tried = await accounts.signIn(name, password, HERE, 'Firefox, Linux')
  if (tried.status !== 'in') throw new Error(`not signed in: ${tried.status}`)
  return tried.value
}

describe('people', () => {
  test('names are told apart without capitals, the last owner stays one', async () => {
    expect(accounts.hasOwner()).toBe(false)
    const ash = await accounts.addPerson('Ash', 'owner', PASSWORD)
    expect(ash).toMatchObject({ name: 'Ash', role: 'owner', createdAt: NOW })
    expect(ended).toEqual([{ what: 'open house' }])
    expect(await accounts.addPerson('ASH', 'viewer', PASSWORD)).toBe('taken')
    expect(await accounts.changePerson(1, { name: 'Ash', role: 'viewer' })).toBe('last owner')
    expect(await accounts.removePerson(1)).toBe('last owner')
    await accounts.addPerson('Robin', 'viewer', PASSWORD)
    expect(await accounts.changePerson(2, { name: 'ash', role: 'viewer' })).toBe('taken')
    expect(await accounts.changePerson(2, { name: 'Robin', role: 'owner' })).toMatchObject({
      role: 'owner',
    })
    expect(await accounts.removePerson(1)).toBe('removed')
    expect(await accounts.removePerson(1)).toBeNull()
    expect(accounts.people().map(({ name }) => name)).toEqual(['Robin'])
  })

  test('no hash leaves the room', async () => {
    await accounts.addPerson('Ash', 'owner', PASSWORD)
    const { secret } = await signedIn()
    const made = await accounts.keys.make({
      kind: 'token',
      name: 'x',
      scopes: ['read'],
      bedId: null,
      endsAt: null,
    })
    const told = JSON.stringify([
      accounts.people(),
      accounts.person(1),
      accounts.sessions.of(1),
      accounts.sessions.bySecret(secret),
      accounts.keys.all('token'),
      accounts.keys.bySecret('token', made.secret),
    ])
    expect(told).not.toMatch(/argon2|hash/)
    const kept = JSON.stringify(await stores.garden.accounts())
    for (const text of [PASSWORD, secret, made.secret]) expect(kept).not.toContain(text)
  })
})

describe('signing in', () => {
  beforeEach(async () => {
    await accounts.addPerson('Ash', 'owner', PASSWORD)
  })

  test('by any writing of the name, with the right password alone', async () => {
    expect((await accounts.signIn(' aSH', PASSWORD, THERE, '')).status).toBe('in')
    expect((await accounts.signIn('Ash', 'worms like rain?', THERE, '')).status).toBe('wrong')
    expect((await accounts.signIn('Nobody', PASSWORD, THERE, '')).status).toBe('wrong')
  })

  test('a name that is not there takes as long to refuse as one that is', async () => {
    const time = async (name: string): Promise<number> => {
      const startedAt = performance.now()
      await accounts.signIn(name, 'not this one', HERE, '')
      return performance.now() - startedAt
    }
    // The first makes the hash nobody has the password of.
    await time('Nobody')
    now += HOUR
    const [known, unknown] = [await time('Ash'), await time('Nobody')]
    // Without the hash it would be a thousandth.
    expect(unknown).toBeGreaterThan(known / 4)
  })

  test('is slowed for a name wherever the tries come from, and never for the owner at the machine', async () => {
    const statuses: string[] = []
    for (let i = 0; i < 12; i++) {
      const from = { address: `192.168.7.${i}`, local: false }
      statuses.push((await accounts.signIn('Ash', 'not this one', from, '')).status)
    }
    expect(statuses.slice(0, 5)).toEqual(['wrong', 'wrong', 'wrong', 'wrong', 'wrong'])
    expect(statuses.at(-1)).toBe('wait')
    expect(
      (await accounts.signIn('Ash', PASSWORD, { address: '10.9.9.9', local: false }, '')).status,
    ).toBe('wait')
    expect((await accounts.signIn('Ash', PASSWORD, HERE, '')).status).toBe('in')
    now += MINUTE
    expect((await accounts.signIn('Ash', PASSWORD, THERE, '')).status).toBe('in')
  })

  test('is slowed for an address whatever names are tried, at the machine by seconds at most', async () => {
    for (let i = 0; i < 12; i++) await accounts.signIn(`name ${i}`, 'not this one', THERE, '')
    const tried = await accounts.signIn('Ash', PASSWORD, THERE, '')
    expect(tried).toMatchObject({ status: 'wait', ms: SECOND })
    for (let i = 0; i < 10; i++) {
      now += 5 * SECOND
      await accounts.signIn('Ash', 'not this one', HERE, '')
    }
    const here = await accounts.signIn('Ash', PASSWORD, HERE, '')
    expect(here.status).toBe('wait')
    if (here.status === 'wait') expect(here.ms).toBeLessThanOrEqual(5 * SECOND)
    now += 5 * SECOND
    expect((await accounts.signIn('Ash', PASSWORD, HERE, '')).status).toBe('in')
  }, 60_000)
})

describe('sessions', () => {
  beforeEach(async () => {
    await accounts.addPerson('Ash', 'owner', PASSWORD)
  })

  test('survive a restart, and so do keys', async () => {
    const { secret } = await signedIn()
    const made = await accounts.keys.make({
      kind: 'share',
      name: 'x',
      scopes: [],
      bedId: 3,
      endsAt: NOW + DAY,
    })
    await close()
    now += HOUR
    await open()
    expect(accounts.sessions.bySecret(secret)).toMatchObject({
      personId: 1,
      device: 'Firefox, Linux',
    })
    expect(accounts.keys.bySecret('share', made.secret)).toMatchObject({ bedId: 3 })
    expect((await accounts.signIn('Ash', PASSWORD, HERE, '')).status).toBe('in')
  })

  test('end when they are not used, and at the latest after half a year', async () => {
    const { secret, session } = await signedIn()
    now += IDLE_MS - 1
    expect(accounts.sessions.bySecret(secret)).toMatchObject({ id: session.id, seenAt: now })
    now += IDLE_MS
    expect(accounts.sessions.bySecret(secret)).toBeNull()
    expect(accounts.sessions.of(1)).toEqual([])
    await accounts.sessions.sweep()
    expect(ended).toContainEqual({ what: 'session', id: session.id })

    const again = await signedIn()
    const startedAt = now
    while (now < startedAt + LONGEST_MS - 20 * DAY) {
      now += 20 * DAY
      expect(
        accounts.sessions.bySecret(again.secret),
        String((now - startedAt) / DAY),
      ).not.toBeNull()
    }
    now = startedAt + LONGEST_MS
    expect(accounts.sessions.bySecret(again.secret)).toBeNull()
  })

  test('all end when the password changes, and with the person', async () => {
    const one = await signedIn()
    const two = await signedIn()
    await accounts.setPassword(1, 'snails like rain')
    expect(accounts.sessions.bySecret(one.secret)).toBeNull()
    expect(accounts.sessions.bySecret(two.secret)).toBeNull()
    expect(ended.filter(({ what }) => what === 'session')).toHaveLength(2)
    expect((await accounts.signIn('Ash', PASSWORD, HERE, '')).status).toBe('wrong')
    await accounts.addPerson('Robin', 'viewer', PASSWORD)
    const three = await signedIn('Robin')
    await accounts.removePerson(2)
    expect(accounts.sessions.bySecret(three.secret)).toBeNull()
    expect((await stores.garden.accounts()).sessions).toEqual([])
  })

  test('of one person are at most fifty: the one unused for longest makes room', async () => {
    const secrets: string[] = []
    for (let i = 0; i < 51; i++) {
      now += MINUTE
      secrets.push((await accounts.sessions.begin(1, '')).secret)
    }
    expect(accounts.sessions.of(1)).toHaveLength(50)
    expect(accounts.sessions.bySecret(secrets[0]!)).toBeNull()
    expect(accounts.sessions.bySecret(secrets[1]!)).not.toBeNull()
  })
})

describe('the code in the log', () => {
  test('is the same until there is an owner, and guessing it is slow', async () => {
    const code = accounts.ownerCode()
    expect(accounts.ownerCode()).toBe(code)
    expect(accounts.isOwnerCode(` ${code.toLowerCase()} `, THERE).status).toBe('in')
    const tries = Array.from(
      { length: 6 },
      () => accounts.isOwnerCode('AAAA-BBBB-CCCC', THERE).status,
    )
    expect(tries).toEqual(['wrong', 'wrong', 'wrong', 'wrong', 'wrong', 'wait'])
    expect(accounts.isOwnerCode(code, THERE).status).toBe('wait')
    await accounts.addPerson('Ash', 'owner', PASSWORD)
    now += HOUR
    expect(accounts.isOwnerCode(code, THERE).status).toBe('wrong')
  })
})

test('a key has its kind and its end, and is gone when it is taken back', async () => {
  const key = {
    kind: 'token',
    name: 'x',
    scopes: ['read'],
    bedId: null,
    endsAt: NOW + DAY,
  } as const
  const made = await accounts.keys.make(key)
  expect(accounts.keys.bySecret('share', made.secret)).toBeNull()
  expect(accounts.keys.bySecret('token', made.secret)).toMatchObject({ usedAt: NOW })
  now += DAY
  expect(accounts.keys.bySecret('token', made.secret)).toBeNull()
  expect(accounts.keys.all('token')).toHaveLength(1)
  expect(await accounts.keys.end('share', made.key.id)).toBe(false)
  expect(await accounts.keys.end('token', made.key.id)).toBe(true)
  expect(await accounts.keys.end('token', made.key.id)).toBe(false)
  expect(ended).toEqual([{ what: 'key', id: made.key.id }])
  expect((await stores.garden.accounts()).keys).toEqual([])
})

test('a key that runs out ends what is open with it: within a minute, and once', async () => {
  await close()
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] })
  try {
    await open()
    const key = { kind: 'token', name: 'x', scopes: ['read'], bedId: null } as const
    const short = await accounts.keys.make({ ...key, endsAt: NOW + DAY })
    await accounts.keys.make({ ...key, endsAt: NOW + 2 * DAY })
    await accounts.keys.make({ ...key, endsAt: null })
    now += DAY - 1
    vi.advanceTimersByTime(MINUTE)
    expect(ended).toEqual([])
    now += 1
    vi.advanceTimersByTime(5 * MINUTE)
    expect(ended).toEqual([{ what: 'key', id: short.key.id }])
    expect(accounts.keys.all('token'), 'it stays to be seen').toHaveLength(3)
    // A clock that is set back lets it in again, and it runs out again.
    now -= 1
    vi.advanceTimersByTime(MINUTE)
    now += 1
    vi.advanceTimersByTime(MINUTE)
    expect(ended).toEqual(Array.from({ length: 2 }, () => ({ what: 'key', id: short.key.id })))
  } finally {
    vi.useRealTimers()
  }
})
