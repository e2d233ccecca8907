import type { PlacedBy } from '../../model/reading.ts'

/** Codes in the database: the position in this list. New ones go to the end. */
export const PLACED_BY: readonly PlacedBy[] = ['arrival', 'device', 'anchors', 'bounded', 'file']
/** Of readings whose time is only bounded; they take no part in series. */
export const BOUNDED = PLACED_BY.indexOf('bounded')
