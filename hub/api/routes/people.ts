import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { IDLE_MS, LONGEST_MS } from '../../accounts/session-book.ts'
import type { Person } from '../../model/account.ts'
import { say } from '../../words/say.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, badValue, notFound } from '../problem.ts'
import {
  newPassword,
  person as personSchema,
  personChange,
  personInput,
  type PersonView,
} from '../schemas/account.ts'
import { idParam } from '../schemas/common.ts'
import { whoIs } from '../who.ts'
import { checkPassword } from './sign-in.ts'

/** People and their sessions, for the owner. */
export function peopleRoutes({ accounts }: ApiDeps): FastifyPluginAsyncZod {
  function view(person: Person, sessionId: number | null): PersonView {
    return {
      ...person,
      sessions: accounts.sessions
        .of(person.id)
        .toSorted((a, b) => b.seenAt - a.seenAt)
        .map(({ id, startedAt, seenAt, device }) => ({
          id,
          startedAt,
          seenAt,
          endsAt: Math.min(seenAt + IDLE_MS, startedAt + LONGEST_MS),
          device,
          thisOne: id === sessionId,
        })),
    }
  }
  const taken = (): ApiProblem => badValue('name', say`Somebody has that name already.`)
  const lastOwner = (): ApiProblem =>
    new ApiProblem(409, say`A hub that had an owner keeps one: make somebody else an owner first.`)

  return async (app) => {
    app.get(
      '/people',
      {
        schema: {
          summary: 'Everybody with a password, and where they are signed in',
          response: { 200: z.array(personSchema) },
        },
      },
      async (request) => accounts.people().map((person) => view(person, whoIs(request).sessionId)),
    )
    app.post(
      '/people',
      {
        schema: {
          summary: 'Add somebody; the first owner is made by POST /owner',
          body: personInput,
          response: { 201: personSchema },
        },
      },
      async (request, reply) => {
        const { name, role, password } = request.body
        if (!accounts.hasOwner()) throw new ApiProblem(409, say`Make the owner first.`)
        checkPassword(password, name)
        const added = await accounts.addPerson(name, role, password)
        if (added === 'taken') throw taken()
        return reply.code(201).send(view(added, whoIs(request).sessionId))
      },
    )
    app.put(
      '/people/:id',
      {
        schema: {
          summary: 'Rename somebody or change their role',
          params: idParam,
          body: personChange,
          response: { 200: personSchema },
        },
      },
      async (request) => {
        const changed = await accounts.changePerson(request.params.id, request.body)
        if (changed === null) throw notFound('person')
        if (changed === 'taken') throw taken()
        if (changed === 'last owner') throw lastOwner()
        return view(changed, whoIs(request).sessionId)
      },
    )
    app.delete(
      '/people/:id',
      {
        schema: {
          summary: 'Take somebody’s account away; they are signed out everywhere',
          params: idParam,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const removed = await accounts.removePerson(request.params.id)
        if (removed === null) throw notFound('person')
        if (removed === 'last owner') throw lastOwner()
        return reply.code(204).send(null)
      },
    )
    app.put(
      '/people/:id/password',
      {
        schema: {
          summary: 'Give somebody else a new password; they are signed out everywhere',
          params: idParam,
          body: newPassword,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const found = accounts.person(request.params.id)
        if (found === null) throw notFound('person')
        if (found.id === whoIs(request).personId) {
          throw new ApiProblem(409, say`Your own password is changed with the one you have now.`)
        }
        checkPassword(request.body.password, found.name)
        await accounts.setPassword(found.id, request.body.password)
        return reply.code(204).send(null)
      },
    )
    app.delete(
      '/sessions/:id',
      {
        schema: {
          summary: 'Sign a browser out',
          params: idParam,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const { id } = request.params
        if (!accounts.sessions.isOn(id)) throw notFound('session')
        await accounts.sessions.end([id])
        return reply.code(204).send(null)
      },
    )
  }
}
