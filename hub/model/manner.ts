import { type Language, LANGUAGES } from './language.ts'

/** Systems in which amounts are told; stored values are SI. `us`: US customary. */
export const UNITS = ['metric', 'us'] as const
export type Units = (typeof UNITS)[number]

/** How a garden wants to be spoken to. */
export interface Manner {
  readonly language: Language
  readonly units: Units
}

/** All there are. */
export const MANNERS: readonly Manner[] = LANGUAGES.flatMap((language) =>
  UNITS.map((units) => ({ language, units })),
)

/** A manner as one word of data. */
export type MannerName = `${Language} ${Units}`
export const mannerName = ({ language, units }: Manner): MannerName => `${language} ${units}`
