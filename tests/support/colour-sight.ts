/** Red, green, blue as light, 0 to 1. */
type Light = readonly [number, number, number]

/**
 * How screens look with common forms of colour blindness, complete ones: what is left of red, green and blue light.
 * Source: Machado, Oliveira, Fernandes, A Physiologically-based Model for Simulation of Color Vision Deficiency,
 * IEEE Transactions on Visualization and Computer Graphics 15 (2009), severity 1.0.
 */
export const SIGHTS = {
  usual: [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ],
  protan: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deutan: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  tritan: [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
} as const satisfies Record<string, readonly Light[]>

/** `#rrggbb` as light, by the sRGB curve of IEC 61966-2-1. */
export function lightOf(colour: string): Light {
  const parts = /^#(..)(..)(..)$/.exec(colour)
  if (parts === null) throw new Error(`expected #rrggbb, got ${colour}`)
  const [r = 0, g = 0, b = 0] = parts.slice(1).map((hex) => {
    const value = Number.parseInt(hex, 16) / 255
    return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4
  })
  return [r, g, b]
}

const dot = (a: Light, b: Light): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2]

/** What somebody with that sight sees of a light. */
export function seenBy(sight: keyof typeof SIGHTS, light: Light): Light {
  const [r, g, b] = SIGHTS[sight]
  const within = (x: number): number => Math.min(1, Math.max(0, x))
  return [within(dot(r, light)), within(dot(g, light)), within(dot(b, light))]
}

/** Contrast of two colours, 1 to 21, by WCAG 2.2. */
export function contrast(one: string, other: string): number {
  const [low = 0, high = 0] = [one, other]
    .map((colour) => dot([0.2126, 0.7152, 0.0722], lightOf(colour)))
    .toSorted((a, b) => a - b)
  return (high + 0.05) / (low + 0.05)
}

/**
 * Lightness, green–red and blue–yellow of a light; equal steps look about equally large.
 * Source: B. Ottosson, A perceptual color space for image processing (Oklab, 2020), also in CSS Color 4.
 */
export function oklab(light: Light): Light {
  const l = Math.cbrt(dot([0.4122214708, 0.5363325363, 0.0514459929], light))
  const m = Math.cbrt(dot([0.2119034982, 0.6806995451, 0.1073969566], light))
  const s = Math.cbrt(dot([0.0883024619, 0.2817188376, 0.6299787005], light))
  const lms: Light = [l, m, s]
  return [
    dot([0.2104542553, 0.793617785, -0.0040720468], lms),
    dot([1.9779984951, -2.428592205, 0.4505937099], lms),
    dot([0.0259040371, 0.7827717662, -0.808675766], lms),
  ]
}
