import type { SoilTest } from '../../model/soil.ts'
import type { SoilTestView } from '../schemas/planning.ts'
import { depthText, groundMass, onGround } from '../../words/amount.ts'
import { say } from '../../words/say.ts'

export function soilTestView(test: SoilTest): SoilTestView {
  const { id, bedId, at, kind, text } = test
  return { id, bedId, at, kind, text, sentence: sentenceOf(test) }
}

function sentenceOf(test: SoilTest): string {
  switch (test.kind) {
    case 'lime requirement': {
      return say`A laboratory advises ${groundMass(test.limeGM2)} of pure lime ${onGround()}, worked in ${depthText(test.depthM)} deep, from pH ${test.fromPh} to ${test.toPh}.`
    }
    case 'exchangeable acidity':
      return say`A laboratory found an exchangeable acidity of ${test.meqPer100G} meq in 100 g of soil at pH ${test.ph}.`
    case 'jar test': {
      const jars = test.jars
        .toSorted((a, b) => a.limeG - b.limeG)
        .map(({ limeG, ph }) => say`${Math.round(1000 * limeG) / 1000} g pH ${ph}`)
      return say`Jars of ${test.soilG} g of dry soil with pure lime: ${jars.join(', ')}.`
    }
    case 'vinegar test':
      return test.fizzes
        ? say`Under vinegar the soil fizzes: there is free lime in it.`
        : say`Under vinegar the soil does not fizz.`
  }
}
