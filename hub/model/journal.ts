/** What can be written in a bed's journal. */
export const JOURNAL_KINDS = ['treatment', 'irrigation', 'service', 'sample', 'note'] as const
export type JournalKind = (typeof JOURNAL_KINDS)[number]

export const SAMPLE_METHODS = [
  'hand meter',
  'slurry 1:1',
  'slurry 1:2',
  'slurry CaCl2',
  'laboratory',
  'laboratory 1:1',
  'laboratory 1:2',
  'laboratory CaCl2',
  'colour kit',
] as const
export type SampleMethod = (typeof SAMPLE_METHODS)[number]

/** False for calcium chloride, whose scale lies below that of water: never held against a band or a level in water. */
export function isWaterScale(method: SampleMethod): boolean {
  return !method.endsWith('CaCl2')
}

/** One dated entry. Fields that do not belong to the kind are null. */
export interface JournalEntry {
  readonly id: number
  readonly bedId: number
  /** When it happened, epoch ms. */
  readonly at: number
  readonly kind: JournalKind
  /** Treatment: what was put on. */
  readonly material: string | null
  /** Treatment: how much on the whole bed, g. */
  readonly amountG: number | null
  /** Irrigation: water on the whole bed, L. */
  readonly waterL: number | null
  /** Service: the probe that was handled (taken out, cleaned, calibrated). */
  readonly probe: string | null
  /** Sample: pH measured by hand or in a laboratory, and how. */
  readonly ph: number | null
  readonly method: SampleMethod | null
  readonly text: string
  /** Name of who wrote it; null or left out: nobody had to say who they are. */
  readonly by?: string | null
}
export type NewJournalEntry = Omit<JournalEntry, 'id'>
