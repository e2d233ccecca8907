import type { FastifyReply, FastifyRequest } from 'fastify'
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { deviceOf } from '../../accounts/device.ts'
import type { Tried } from '../../accounts/open-accounts.ts'
import { LONGEST_PASSWORD, SHORTEST_PASSWORD, weakness } from '../../accounts/password.ts'
import { LONGEST_MS } from '../../accounts/session-book.ts'
import { SECOND } from '../../model/clock.ts'
import { say } from '../../words/say.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, badValue } from '../problem.ts'
import {
  ownerInput,
  passwordInput,
  signInInput,
  who as whoSchema,
  type WhoView,
} from '../schemas/account.ts'
import { cookieName, isEncrypted, originOf, whoIs } from '../who.ts'

/** Refuses a password that is guessed first. */
export function checkPassword(password: string, name: string): void {
  switch (weakness(password, name)) {
    case null:
      return
    case 'short':
      throw badValue('password', say`expected at least ${SHORTEST_PASSWORD} characters`)
    case 'long':
      throw badValue('password', say`expected at most ${LONGEST_PASSWORD} characters`)
    case 'same letters':
      throw badValue('password', say`expected more than three different characters`)
    case 'the name':
      throw badValue('password', say`expected something other than the name`)
  }
}

/** What was tried, or why it did not go through; `wrong` says what to answer then. */
export function throughOr<T>(tried: Tried<T>, reply: FastifyReply, wrong: () => ApiProblem): T {
  if (tried.status === 'in') return tried.value
  if (tried.status === 'wrong') throw wrong()
  const seconds = Math.ceil(tried.ms / SECOND)
  void reply.header('retry-after', String(seconds))
  throw new ApiProblem(
    429,
    seconds === 1
      ? say`Too many tries. Try again in one second.`
      : say`Too many tries. Try again in ${seconds} seconds.`,
  )
}

function setCookie(request: FastifyRequest, reply: FastifyReply, secret: string | null): void {
  const age = secret === null ? 0 : Math.floor(LONGEST_MS / SECOND)
  const parts = [
    `${cookieName(request)}=${secret ?? ''}`,
    'Path=/',
    `Max-Age=${age}`,
    'HttpOnly',
    'SameSite=Lax',
  ]
  if (isEncrypted(request)) parts.push('Secure')
  void reply.header('set-cookie', parts.join('; '))
  void reply.header('cache-control', 'no-store')
}

/** Signing in and out, and the first owner. */
export function signInRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { accounts } = deps
  /** Two owners made at the same moment would both be the first. */
  let making = false

  function view(request: FastifyRequest): WhoView {
    const who = whoIs(request)
    const state: Partial<Record<typeof who.kind, WhoView['state']>> = {
      nobody: 'sign in',
      here: 'open',
      elsewhere: 'no owner',
    }
    return {
      state: state[who.kind] ?? 'in',
      name: who.name,
      personId: who.personId,
      scopes: [...who.scopes],
      exposed: deps.http.beyond && !isEncrypted(request),
      language: deps.manner.now().language,
    }
  }
  async function signIn(
    request: FastifyRequest,
    reply: FastifyReply,
    { name, password }: { name: string; password: string },
  ): Promise<void> {
    const device = deviceOf(request.headers['user-agent'])
    const tried = await accounts.signIn(name, password, originOf(request), device)
    const { secret } = throughOr(
      tried,
      reply,
      () => new ApiProblem(401, say`The name or the password is not right.`),
    )
    // The browser's session before this one is over: nobody can have slipped one in (session fixation).
    const { sessionId } = whoIs(request)
    if (sessionId !== null) await accounts.sessions.end([sessionId])
    setCookie(request, reply, secret)
  }

  /** The first owner, or a new password for one. */
  async function setOwner(name: string, password: string): Promise<void> {
    if (!accounts.hasOwner()) {
      const made = await accounts.addPerson(name, 'owner', password)
      if (made === 'taken') throw badValue('name', say`Somebody has that name already.`)
      return
    }
    const owner = accounts.people().find((p) => p.role === 'owner' && p.name === name)
    if (owner === undefined) throw badValue('name', `expected the name of an owner, got '${name}'`)
    await accounts.setPassword(owner.id, password)
  }

  return async (app) => {
    app.get(
      '/who',
      {
        schema: {
          summary: 'Who you are to the hub, and what you may do',
          response: { 200: whoSchema },
        },
      },
      async (request, reply) => {
        void reply.header('cache-control', 'no-store')
        return view(request)
      },
    )
    app.post(
      '/sign-in',
      {
        schema: {
          summary: 'Sign in; the answer sets a cookie',
          body: signInInput,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        await signIn(request, reply, request.body)
        return reply.code(204).send(null)
      },
    )
    app.post(
      '/sign-out',
      { schema: { summary: 'End this session', response: { 204: z.null() } } },
      async (request, reply) => {
        const { sessionId } = whoIs(request)
        if (sessionId !== null) await accounts.sessions.end([sessionId])
        setCookie(request, reply, null)
        return reply.code(204).send(null)
      },
    )
    app.put(
      '/password',
      {
        schema: {
          summary:
            'Change your own password; all your sessions end, and this browser gets a new one',
          body: passwordInput,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const { personId, name } = whoIs(request)
        const { current, password } = request.body
        const tried = await accounts.isPassword(personId!, current, originOf(request))
        throughOr(tried, reply, () => badValue('current', say`This is not your password.`))
        checkPassword(password, name ?? '')
        await accounts.setPassword(personId!, password)
        const device = deviceOf(request.headers['user-agent'])
        const { secret } = await accounts.sessions.begin(personId!, device)
        setCookie(request, reply, secret)
        return reply.code(204).send(null)
      },
    )
    app.post(
      '/owner',
      {
        schema: {
          summary: 'Make the first owner and sign them in',
          description:
            'Goes once. From another machine it needs the code that stands in the log of the hub. A command at the ' +
            "hub's machine may also give an owner there is a new password.",
          body: ownerInput,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const { name, password, code } = request.body
        const { kind } = whoIs(request)
        if (accounts.hasOwner() && kind !== 'terminal') {
          throw new ApiProblem(409, say`This hub has an owner already. Sign in.`)
        }
        if (kind !== 'here' && kind !== 'terminal') {
          const tried = accounts.isOwnerCode(code ?? '', originOf(request))
          throughOr(tried, reply, () =>
            badValue('code', say`This is not the code in the log of the hub.`),
          )
        }
        checkPassword(password, name)
        if (making) throw new ApiProblem(409, say`This hub has an owner already. Sign in.`)
        making = true
        try {
          await setOwner(name, password)
        } finally {
          making = false
        }
        if (kind !== 'terminal') await signIn(request, reply, { name, password })
        return reply.code(204).send(null)
      },
    )
  }
}
