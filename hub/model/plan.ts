import type { MannerName } from './manner.ts'

/** Least, most likely and largest; of signed changes by their size. */
export interface Range {
  readonly low: number
  readonly typical: number
  readonly high: number
}

/** One small treatment of a plan. */
export interface PlanStage {
  /** The day from which it may go on, epoch ms. */
  readonly dueAt: number
  /** Of the product, on the whole bed, g. */
  readonly amountG: number
  /** What it does to the pH at its fullest, signed. */
  readonly change: Range
  /** When the effect is expected to be full, epoch ms: earliest and latest. */
  readonly fullFrom: number
  readonly fullBy: number
  /** When to measure again, epoch ms, ascending. */
  readonly retestsAt: readonly number[]
  /** The journal entry of the treatment; null while it lies ahead. */
  readonly entryId: number | null
}

/** How a plan ended: the bed is where it should be, the response said stop, or the gardener gave it up. */
export const PLAN_ENDINGS = ['reached', 'stopped', 'given up'] as const
export type PlanEnding = (typeof PLAN_ENDINGS)[number]

/** A staged series of small treatments of one bed with one material. */
export interface Plan {
  readonly id: number
  readonly bedId: number
  readonly createdAt: number
  /** Slug of the table of amendments. */
  readonly material: string
  /** g of calcium carbonate that 1 g of the product neutralises, or that its acid uses up. */
  readonly strength: number
  readonly fromPh: number
  readonly targetPh: number
  /** Pure calcium carbonate, g/m2 for one pH, over the worked depth of this bed. */
  readonly buffering: Range
  /** What the buffering rests on, in a sentence. */
  readonly basis: string
  /** The same by language and units. @default none: kept by an older hub, which kept one manner only */
  readonly bases?: Readonly<Partial<Record<MannerName, string>>>
  readonly stages: readonly PlanStage[]
  readonly closedAt: number | null
  readonly ending: PlanEnding | null
}
export type NewPlan = Omit<Plan, 'id' | 'createdAt' | 'closedAt' | 'ending'>

/** What the gardener settled for all plans. */
export interface PlanningSettings {
  /** Growing season by dates, 'MM-DD', both inside; null: by the soil's own temperature. */
  readonly season: { readonly from: string; readonly to: string } | null
  /** ISO 4217; null: prices are not used. */
  readonly currency: string | null
  /** By slug of the table of amendments, per kg of the product. */
  readonly prices: readonly { readonly material: string; readonly perKg: number }[]
}

/** A picture that belongs to a journal entry. */
export interface Photo {
  readonly entryId: number
  readonly type: 'image/jpeg' | 'image/png' | 'image/webp'
  readonly bytes: Uint8Array
}
