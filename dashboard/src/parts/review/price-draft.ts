import type { PlanningSettingsView } from '../../../../hub/api/schemas/planning.ts'
import { fieldNumber, notNumber, parseNumber } from '../../number-field.ts'
import type { Units } from '../../format.ts'
import { say, toSay } from '../../say.ts'

/** Materials that a dose is known of, with their slugs in the hub's table. */
export const PRICED: readonly { readonly slug: string; readonly name: string }[] = [
  { slug: 'ground-limestone', name: toSay('ground limestone') },
  { slug: 'dolomitic-limestone', name: toSay('dolomitic limestone') },
  { slug: 'hydrated-lime', name: toSay('hydrated lime') },
  { slug: 'wood-ash', name: toSay('wood ash') },
  { slug: 'sulfur', name: toSay('elemental sulfur') },
  { slug: 'iron-sulfate', name: toSay('iron sulfate') },
  { slug: 'aluminum-sulfate', name: toSay('aluminum sulfate') },
  { slug: 'ammonium-sulfate', name: toSay('ammonium sulfate') },
]

/** Prices are asked for by the kilogram, or by the pound (453.59237 g by its international definition). */
const KG: Readonly<Record<Units, { readonly name: string; readonly kg: number }>> = {
  metric: { name: 'kg', kg: 1 },
  us: { name: 'lb', kg: 0.45359237 },
}
export const priceUnit = (units: Units): string => KG[units].name

/** Prices as they stand in the form: text as typed, empty where none is known. */
export interface PriceDraft {
  readonly currency: string
  readonly prices: Readonly<Record<string, string>>
}
type Errors = { path: string; message: string }[]

const six = (x: number): number => Number(x.toPrecision(6))

export function priceDraft(settings: PlanningSettingsView, units: Units): PriceDraft {
  return {
    currency: settings.currency ?? '',
    prices: Object.fromEntries(
      settings.prices.map(({ material, perKg }) => [
        material,
        fieldNumber(six(perKg * KG[units].kg)),
      ]),
    ),
  }
}

/** A currency as it was typed; null for none. */
export function currencyOf(text: string): string | null {
  const plain = text.trim().toUpperCase()
  return plain === '' ? null : plain
}

/** The settings with the prices of the form, or what cannot be read. The growing season stays as it is. */
export function pricesOf(
  draft: PriceDraft,
  settings: PlanningSettingsView,
  units: Units,
): { readonly settings: PlanningSettingsView; readonly errors: Errors } {
  const errors: Errors = []
  const before = priceDraft(settings, units).prices
  const prices: PlanningSettingsView['prices'] = []
  for (const [material, text] of Object.entries(draft.prices)) {
    if (text.trim() === '') continue
    const kept = settings.prices.find((price) => price.material === material)
    // What was not touched is not rounded again.
    if (kept !== undefined && text === before[material]) {
      prices.push(kept)
      continue
    }
    const shown = parseNumber(text)
    if (shown === null) errors.push({ path: material, message: notNumber(text) })
    else if (shown <= 0)
      errors.push({
        path: material,
        message: say`expected more than 0; leave it empty for no price`,
      })
    else prices.push({ material, perKg: six(shown / KG[units].kg) })
  }
  const currency = currencyOf(draft.currency)
  if (currency === null && prices.length > 0)
    errors.push({ path: 'currency', message: say`say in which money the prices are, such as EUR` })
  return { settings: { ...settings, currency, prices }, errors }
}
