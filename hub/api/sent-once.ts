import { createHash } from 'node:crypto'
import type { FastifyRequest } from 'fastify'
import { z } from 'zod'
import type { JournalEntry, NewJournalEntry } from '../model/journal.ts'
import type { GardenStore, Sent, SentBefore } from '../store/garden-store.ts'
import { ApiProblem } from './problem.ts'

/**
 * The header by which something that is sent twice is stored once (IETF draft 'The Idempotency-Key HTTP Header
 * Field', draft-ietf-httpapi-idempotency-key-header). The draft puts the key in quotes; without them it is taken too.
 */
export const onceHeaders = z.object({
  'idempotency-key': z
    .string()
    .regex(/^"?[A-Za-z0-9_-]{16,80}"?$/, 'expected 16 to 80 letters, digits, - and _')
    .optional()
    .describe('a key of your own making, such as a UUID: the same again stores nothing twice'),
})

/** The key of a request, and what it stands for; null when it has none. */
export function sentWith(request: FastifyRequest, now: number): Sent | null {
  const header = request.headers['idempotency-key']
  if (typeof header !== 'string') return null
  const content = JSON.stringify([request.method, request.url, request.body])
  return {
    key: header.replaceAll('"', ''),
    digest: createHash('sha256').update(content).digest('base64url'),
    at: now,
  }
}

function sameContent(before: SentBefore, sent: Sent): JournalEntry {
  if (before.digest === sent.digest) return before.entry
  throw new ApiProblem(
    422,
    'expected an Idempotency-Key that was not used before, or the same content as then',
  )
}

/** What was stored when this was sent before; null when it was not. */
export async function storedBefore(
  garden: GardenStore,
  sent: Sent | null,
): Promise<JournalEntry | null> {
  const before = sent === null ? null : await garden.sentBefore(sent.key)
  return before === null || sent === null ? null : sameContent(before, sent)
}

/** Writes an entry, or finds that somebody did so with the same key meanwhile. */
export async function storeOnce(
  garden: GardenStore,
  entry: NewJournalEntry,
  sent: Sent | null,
): Promise<{ readonly entry: JournalEntry; readonly again: boolean }> {
  if (sent === null) return { entry: await garden.addEntry(entry), again: false }
  const stored = await garden.addEntryOnce(entry, sent)
  return { entry: sameContent(stored, sent), again: stored.again }
}
