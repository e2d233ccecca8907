import { MANNERS, type MannerName, mannerName } from '../model/manner.ts'
import { inManner, manner } from './say.ts'

/** What was said at one time, by language and units; in US units only where that differs. */
export type Everywhere<Text> = Readonly<Partial<Record<MannerName, Text>>>

/** A text in every manner, to be kept with what it is about: later it cannot be made again. */
export function everywhere(make: () => string): Everywhere<string> {
  const texts: { [Name in MannerName]?: string } = {}
  for (const chosen of MANNERS) {
    const text = inManner(chosen, make)
    if (text === texts[mannerName({ ...chosen, units: 'metric' })]) continue
    texts[mannerName(chosen)] = text
  }
  return texts
}

/** What was kept for the manner spoken here; undefined: nothing was. */
export function saidHere<Text>(texts: Everywhere<Text> | undefined): Text | undefined {
  const { language, units } = manner()
  return (
    texts?.[mannerName({ language, units })] ?? texts?.[mannerName({ language, units: 'metric' })]
  )
}
