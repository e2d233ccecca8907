import type { Reading } from '../../model/reading.ts'

/** A reading as it is kept: `t` is where it stands among those of its probe, each moment once, whole epoch ms. */
export type KeptReading = Omit<Reading, 'probe'> & { readonly t: number }
