import { z } from 'zod'
import { KEY_KINDS, ROLES, SCOPES } from '../../model/account.ts'
import { LANGUAGES } from '../../model/language.ts'
import { bedView, bandView, present } from './bed.ts'
import { epochMs, id, name } from './common.ts'

const password = z.string().max(1000).describe('10 to 200 characters')
const code = z.string().max(40).optional().describe("from the hub's log; on its own machine none")

/** Who asks, and what they may do. */
export const who = z
  .object({
    state: z
      .enum(['open', 'no owner', 'sign in', 'in'])
      .describe(
        'open: no owner yet, and this is the hub’s own machine; no owner: none yet, and it is another one',
      ),
    name: z.string().nullable(),
    personId: id.nullable(),
    scopes: z.array(z.enum(SCOPES)),
    exposed: z
      .boolean()
      .describe('the hub listens beyond its own machine, and this request came unencrypted'),
    language: z.enum(LANGUAGES),
  })
  .meta({ id: 'Who' })
export type WhoView = z.infer<typeof who>

export const signInInput = z
  .object({ name: z.string().max(200), password })
  .meta({ id: 'SignInForm' })
export const ownerInput = z.object({ name, password, code }).meta({ id: 'OwnerForm' })
export const passwordInput = z
  .object({ current: z.string().max(1000), password })
  .meta({ id: 'PasswordForm' })

export const personInput = z
  .object({ name, role: z.enum(ROLES), password })
  .meta({ id: 'PersonForm' })
export const personChange = z.object({ name, role: z.enum(ROLES) }).meta({ id: 'PersonChangeForm' })
export const newPassword = z.object({ password }).meta({ id: 'NewPasswordForm' })

export const session = z
  .object({
    id,
    startedAt: epochMs,
    seenAt: epochMs.describe('exact to five minutes'),
    endsAt: epochMs.describe('when it ends if it is not used again'),
    device: z.string().describe('what the browser says of itself; empty: nothing'),
    thisOne: z.boolean(),
  })
  .meta({ id: 'Session' })
export const person = z
  .object({
    id,
    name: z.string(),
    role: z.enum(ROLES),
    createdAt: epochMs,
    passwordAt: epochMs,
    sessions: z.array(session),
  })
  .meta({ id: 'Person' })
export type PersonView = z.infer<typeof person>

const endsAt = epochMs.nullable().default(null).describe('null: until it is taken back')
export const tokenInput = z
  .object({
    name,
    scopes: z.array(z.enum(SCOPES)).min(1, 'expected at least one scope'),
    endsAt,
  })
  .meta({ id: 'TokenForm' })
export const shareInput = z.object({ name, bedId: id, endsAt }).meta({ id: 'ShareForm' })
export const key = z
  .object({
    id,
    kind: z.enum(KEY_KINDS),
    name: z.string(),
    scopes: z.array(z.enum(SCOPES)),
    bedId: id.nullable(),
    madeAt: epochMs,
    endsAt: epochMs.nullable(),
    usedAt: epochMs.nullable().describe('exact to a minute; null: not yet'),
    over: z.boolean().describe('its time has run out'),
  })
  .meta({ id: 'AccessKey' })
export type KeyView = z.infer<typeof key>
/** A new key. The secret is in it, here and nowhere else. */
export const madeKey = z
  .object({
    key,
    secret: z.string().describe('shown once: the hub keeps only a hash of it'),
    paths: z.array(z.string()).describe('addresses that have it in them'),
  })
  .meta({ id: 'MadeKey' })
export type MadeKey = z.infer<typeof madeKey>

export const keyParam = z.object({ key: z.string().max(200) })
/** One bed as a share link shows it: nothing of probes, alarms, journal or plans. */
export const sharedBed = z
  .object({
    garden: z.object({
      name: z.string(),
      zone: z.string(),
      units: z.enum(['metric', 'us']),
      language: z.enum(LANGUAGES),
    }),
    name: z.string(),
    crops: z.array(z.string()),
    ph: present,
    moisture: present,
    temperature: present,
    band: bandView,
    standing: bedView.shape.standing,
    sentence: z.string(),
    at: epochMs.describe('now, by the hub'),
    endsAt: epochMs.nullable().describe('when the link ends'),
  })
  .meta({ id: 'SharedBed' })
export type SharedBed = z.infer<typeof sharedBed>
