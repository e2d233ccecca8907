import { RATE_DEPTH_M } from '../../agronomy/soil-rates.ts'
import type { SoilTest } from '../../model/soil.ts'
import type { SoilTestView } from '../schemas/planning.ts'
import { say } from '../../words/say.ts'

export function soilTestView(test: SoilTest): SoilTestView {
  const { id, bedId, at, kind, text } = test
  return { id, bedId, at, kind, text, sentence: sentenceOf(test) }
}

function sentenceOf(test: SoilTest): string {
  switch (test.kind) {
    case 'lime requirement': {
      const depth = test.depthM === RATE_DEPTH_M ? '15 cm' : `${Math.round(100 * test.depthM)} cm`
      return say`A laboratory advises ${Math.round(test.limeGM2)} g of pure lime on each square metre, worked in ${depth} deep, from pH ${test.fromPh} to ${test.toPh}.`
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
