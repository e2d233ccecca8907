/*
 * How much the fuzzers try. FUZZ_FACTOR multiplies every number of runs (default 1, which fits into a run of all
 * tests; 20 is a good hour), FUZZ_SEED starts them elsewhere (default 20270510, so that a run can be had again).
 */

function whole(name: string, fallback: number): number {
  const text = process.env[name]
  if (text === undefined || text === '') return fallback
  if (!/^\d{1,9}$/.test(text) || text === '0') {
    throw new Error(`${name}: expected a whole number above 0, got '${text}'`)
  }
  return Number(text)
}

export const FUZZ_SEED = whole('FUZZ_SEED', 20_270_510)
const FACTOR = whole('FUZZ_FACTOR', 1)

/** Number of runs of one fuzzer: `usual` of them unless FUZZ_FACTOR says more. */
export const runs = (usual: number): { readonly numRuns: number; readonly seed: number } => ({
  numRuns: usual * FACTOR,
  seed: FUZZ_SEED,
})

/** Longest time a fuzzer may take, ms. */
export const longest = (usual: number): number => usual * FACTOR
