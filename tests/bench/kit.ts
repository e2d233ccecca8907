/** The value in the middle; of an even number the upper one of the two. */
export const middle = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[values.length >> 1] ?? NaN

/** Milliseconds that work takes: the middle of `times` runs, after one that is not counted. */
export async function timed(work: () => unknown, times: number): Promise<number> {
  await work()
  const all: number[] = []
  for (let i = 0; i < times; i++) {
    const begun = performance.now()
    await work()
    all.push(performance.now() - begun)
  }
  return middle(all)
}

/** What a hub that nobody watches says of itself. */
export const quiet = { warn: (): void => undefined, info: (): void => undefined }
