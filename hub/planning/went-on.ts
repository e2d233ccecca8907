import { amendmentOf, type Amendment } from '../agronomy/amendments.ts'
import { dosingOf, type Dosing } from '../agronomy/dosing.ts'
import { DAY } from '../model/clock.ts'
import type { JournalEntry } from '../model/journal.ts'
import type { Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'

/** A material for pH that was put on this bed. */
export interface WentOn {
  readonly entry: JournalEntry
  readonly at: number
  readonly row: Amendment
  /** +1 raises, -1 lowers. */
  readonly toward: 1 | -1
  readonly dosing: Dosing | null
  /** Of the product, g/m2; null when it was not written down. */
  readonly gM2: number | null
  /** g of calcium carbonate per g; narrow where a kept plan says what the label said. Null: not known. */
  readonly strength: Range | null
}

/** What moves pH and was put on up to now, oldest first, the gardener's words turned into rows of the table. */
export function wentOn({ journal, bed, plans, at }: BedFacts): readonly WentOn[] {
  return journal.flatMap((entry): WentOn[] => {
    if (entry.kind !== 'treatment' || entry.at > at) return []
    const row = amendmentOf(entry.material ?? '')
    if (row === null || (row.direction !== 'raises' && row.direction !== 'lowers')) return []
    const dosing = dosingOf(row.slug)
    const plan = plans.find(
      (p) => p.material === row.slug && p.stages.some(({ entryId }) => entryId === entry.id),
    )
    const exact = plan?.strength
    return [
      {
        entry,
        at: entry.at,
        row,
        toward: row.direction === 'raises' ? 1 : -1,
        dosing,
        gM2: entry.amountG === null ? null : entry.amountG / bed.areaM2,
        strength:
          exact === undefined
            ? (dosing?.acts ?? null)
            : { low: exact, typical: exact, high: exact },
      },
    ]
  })
}

/** Words, in every language of the hub, for what brings soluble salt or nitrogen; common practice, no source. */
const FERTILISER =
  /fertili[sz]er|fertili[sz]ed|\bfeed\b|\bnpk\b|urea|ammoni|nitrate|phosphate|\bpotash\b|guano|bone ?meal|blood ?meal|hoof|plant food|d[üu]nger|ged[üu]ngt|harnstoff|nitrat|phosphat|\bkali\b|hornmehl|hornsp[äa]ne|blutmehl|knochenmehl|abono|abonad|fertilizante|nitrato|fosfato|amoni|potasa|harina de (hueso|sangre)/i
const MANURE =
  /manure|\bdung\b|\bmuck\b|slurry|droppings|poultry|guano|\b(stall|pferde|rinder|h[üu]hner|schaf)?mist\b|jauche|g[üu]lle|esti[ée]rcol|gallinaza|pur[íi]n/i
const AMMONIUM = /ammoni|amoni|urea|harnstoff/i

/** Treatments with fertiliser, and waterings that were said to hold some, within so many days before now, newest last. */
export function fertilised(facts: BedFacts, days: number): readonly JournalEntry[] {
  return treatedWith(facts, days, FERTILISER)
}

/** The same of manure or ammonium, within so many days before now, newest last. */
export function manured(facts: BedFacts, days: number): readonly JournalEntry[] {
  return treatedWith(facts, days, new RegExp(`${MANURE.source}|${AMMONIUM.source}`, 'i'))
}

function treatedWith(
  { journal, at }: BedFacts,
  days: number,
  words: RegExp,
): readonly JournalEntry[] {
  return journal.filter(
    (e) =>
      e.at <= at &&
      e.at > at - days * DAY &&
      words.test(
        e.kind === 'treatment' ? (e.material ?? '') : e.kind === 'irrigation' ? e.text : '',
      ),
  )
}

/** Treatments within so many days before now of which nobody can say what they do to pH, newest last. */
export function unclearTreatments(
  { journal, at }: BedFacts,
  days: number,
): readonly JournalEntry[] {
  return journal.filter((e) => {
    if (e.kind !== 'treatment' || e.at > at || e.at <= at - days * DAY) return false
    const row = amendmentOf(e.material ?? '')
    if (row === null && FERTILISER.test(e.material ?? '')) return false
    return row === null || row.direction === 'unclear'
  })
}
