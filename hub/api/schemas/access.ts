import { z } from 'zod'
import { epochMs } from './common.ts'

/** How a probe gets in, and what stands against it. */
export const probeAccess = z
  .object({
    password: z
      .enum(['none', 'set', 'revoked'])
      .describe('revoked: nothing is let in under this id until it gets a new password'),
    since: epochMs.nullable().describe('when it came to that; null: it never had a password'),
    wrongAt: epochMs
      .nullable()
      .describe('when somebody last gave a wrong password, since the hub started'),
    overLimit: z
      .object({
        since: epochMs,
        lastAt: epochMs,
        refused: z.number().int().describe('messages that were not taken'),
      })
      .nullable()
      .describe('it sends more than it may; null an hour after the last time'),
  })
  .meta({ id: 'ProbeAccess' })
export type ProbeAccessView = z.infer<typeof probeAccess>

/** What goes into a probe's firmware. The password is in it, here and nowhere else. */
export const probeSetup = z
  .object({
    id: z.string(),
    password: z.string().describe('shown once: the hub keeps only a hash of it'),
    broker: z.object({
      host: z.string(),
      port: z.number().int(),
      encrypted: z.boolean().describe('TLS at this port'),
      plainPort: z
        .number()
        .int()
        .nullable()
        .describe('where it listens without encryption; null: nowhere'),
      keySha256: z
        .string()
        .nullable()
        .describe('SHA-256 of the public key (SubjectPublicKeyInfo) of its certificate, base64'),
      reach: z
        .enum(['network', 'this machine'])
        .describe('this machine: nothing beyond it gets to the broker at this address'),
    }),
    header: z.object({ name: z.string(), text: z.string() }).describe('a C header file'),
    line: z.string().describe('the same in one line, for a serial console or a QR code'),
  })
  .meta({ id: 'ProbeSetup' })
export type ProbeSetup = z.infer<typeof probeSetup>
