import { parseArgs } from 'node:util'
import type { ParseArgsConfig } from 'node:util'
import { HubError } from '../errors.ts'

/** Someone else's mistake in a command. */
export const badOption = (message: string): HubError =>
  new HubError('HUB_CONFIG', message, { retry: false })

/** Options of a command; what is not known is refused together with the help. */
export function readOptions<const T extends ParseArgsConfig>(config: T, help: string) {
  try {
    return parseArgs(config)
  } catch (error) {
    throw badOption(`${(error as Error).message}\n\n${help}`)
  }
}

/** Epoch ms of a day such as 2026-05-01 in a zone; other text is refused. */
export function dayStart(option: string, text: string, zone: string): number {
  try {
    if (!/^\d{4}-\d{2}-\d{2}$/.test(text)) throw new RangeError('not a day')
    return Temporal.PlainDate.from(text).toZonedDateTime(zone).epochMilliseconds
  } catch {
    throw badOption(`--${option}: expected a day such as 2026-05-01, got '${text}'`)
  }
}
