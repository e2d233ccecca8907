/** 32-bit FNV-1a hash of a name (public domain), over its UTF-16 code units; names here are ASCII. */
export function nameHash(name: string): number {
  let hash = 0x811c9dc5
  for (let i = 0; i < name.length; i++) {
    hash = Math.imul(hash ^ name.charCodeAt(i), 0x01000193)
  }
  return hash >>> 0
}

/** Scrambles 32 bits so that neighbouring inputs share nothing (finaliser of MurmurHash3, public domain). */
function scramble(bits: number): number {
  let x = bits | 0
  x = Math.imul(x ^ (x >>> 16), 0x85ebca6b)
  x = Math.imul(x ^ (x >>> 13), 0xc2b2ae35)
  return (x ^ (x >>> 16)) >>> 0
}

const UNIT = 1 / 4294967296
const GOLDEN = 0x9e3779b9

/** Standard normal from two uniforms in [0, 1), Box and Muller 1958. */
function normalFrom(u: number, v: number): number {
  return Math.sqrt(-2 * Math.log(1 - u)) * Math.cos(2 * Math.PI * v)
}

/**
 * A stream of seeded random numbers that can be split by name: a split depends on the seed and the name
 * alone, never on what was drawn before, so one more probe leaves every other probe as it was.
 */
export interface Random {
  /** In [0, 1). */
  uniform(): number
  /** Uniform from `low` to `high`. */
  between(low: number, high: number): number
  /** Normal with the given mean (default 0) and standard deviation (default 1). */
  normal(mean?: number, sd?: number): number
  exponential(mean: number): number
  /** True with probability `p`. */
  chance(p: number): boolean
  split(name: string): Random
}

/** Counter behind a scrambler keyed by the seed: period 2^32, far above what one stream draws. */
export function seededRandom(seed: number): Random {
  const key = scramble(seed ^ GOLDEN)
  let count = 0
  const uniform = (): number => {
    count = (count + GOLDEN) | 0
    return scramble(scramble(count ^ key) + key) * UNIT
  }
  return {
    uniform,
    between: (low, high) => low + (high - low) * uniform(),
    normal: (mean = 0, sd = 1) => mean + sd * normalFrom(uniform(), uniform()),
    exponential: (mean) => -mean * Math.log(1 - uniform()),
    chance: (p) => uniform() < p,
    split: (name) => seededRandom(scramble(key ^ nameHash(name))),
  }
}

/** Random numbers that are a function of a whole-number index instead of a stream: any order, any time. */
export interface IndexedNoise {
  /** In [0, 1). */
  uniform(index: number): number
  /** Standard normal. */
  normal(index: number): number
}

/** Indices may reach 2^53 (epoch seconds do). */
export function indexedNoise(seed: number, name: string): IndexedNoise {
  const key = scramble(seed ^ nameHash(name))
  const bits = (index: number, salt: number): number => {
    const high = Math.floor(index / 4294967296)
    return scramble(scramble((index | 0) ^ key) + Math.imul(high + salt, GOLDEN) + key)
  }
  return {
    uniform: (index) => bits(index, 1) * UNIT,
    normal: (index) => normalFrom(bits(index, 2) * UNIT, bits(index, 3) * UNIT),
  }
}
