import type { ComponentChildren } from 'preact'
import { said } from './say.ts'

/**
 * A marked text with elements in its numbered holes, for sentences that hold a link or a figure set apart:
 * `saying(toSay('Prices are kept with the {0}.'), <Link … />)`.
 */
export function saying(text: string, ...elements: readonly ComponentChildren[]): ComponentChildren {
  return said(text)
    .split(/\{(\d+)\}/)
    .map((part, i) => (i % 2 === 0 ? part : elements[Number(part)]))
}
