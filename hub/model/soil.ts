/** What decides a dose and is not part of the bed itself. */
export interface BedSoil {
  readonly bedId: number
  /** Dry mass of the soil as it lies, kg/m3; null: judged by texture. */
  readonly bulkDensity: number | null
  /** `standing`: plants that stay, so that nothing can be dug in; null: not said. */
  readonly planting: 'bare' | 'standing' | null
  /** Whether the water it gets is hard; null: not said. */
  readonly hardWater: boolean | null
}

/** What a laboratory or the gardener found out about how the soil of a bed holds its pH. */
export type SoilTestBody =
  /** A laboratory's advice: pure calcium carbonate, g/m2, worked in to a depth in m, to come from one pH to another. */
  | {
      readonly kind: 'lime requirement'
      readonly limeGM2: number
      readonly depthM: number
      readonly fromPh: number
      readonly toPh: number
    }
  /** Exchangeable acidity, meq in 100 g of soil, and the pH (in water) of the same sample. */
  | { readonly kind: 'exchangeable acidity'; readonly meqPer100G: number; readonly ph: number }
  /**
   * Jars of the same soil with more and more fine lime, kept moist for weeks, then measured: dry soil in each jar, g,
   * and lime as pure calcium carbonate, g.
   */
  | {
      readonly kind: 'jar test'
      readonly soilG: number
      readonly jars: readonly { readonly limeG: number; readonly ph: number }[]
    }
  /** Whether dry soil fizzes under vinegar: free lime. */
  | { readonly kind: 'vinegar test'; readonly fizzes: boolean }

export type SoilTest = {
  readonly id: number
  readonly bedId: number
  /** Epoch ms. */
  readonly at: number
  readonly text: string
} & SoilTestBody
export type NewSoilTest = {
  readonly bedId: number
  readonly at: number
  readonly text: string
} & SoilTestBody
