import { useEffect, useState } from 'preact/hooks'
import type uPlot from 'uplot'

/** Colours of the charts, as the style sheet has them for the present scheme. */
export interface Palette {
  readonly ink: string
  readonly faint: string
  readonly rule: string
  readonly band: string
  readonly bandEdge: string
  readonly shade: string
  readonly mark: string
  readonly acid: string
  readonly neutral: string
  readonly alkaline: string
  readonly font: string
}

function read(): Palette {
  const style = getComputedStyle(document.documentElement)
  return paletteOf((name) => style.getPropertyValue(name).trim())
}

export function paletteOf(of: (name: string) => string): Palette {
  return {
    ink: of('--ink'),
    faint: of('--ink-faint'),
    rule: of('--chart-rule'),
    band: of('--band'),
    bandEdge: of('--band-edge'),
    shade: of('--shade'),
    mark: of('--mark'),
    acid: of('--acid'),
    neutral: of('--neutral'),
    alkaline: of('--alkaline'),
    font: of('--sans'),
  }
}

/** Follows the system's light and dark. */
export function usePalette(): Palette {
  const [palette, setPalette] = useState(read)
  useEffect(() => {
    const media = matchMedia('(prefers-color-scheme: dark)')
    const again = (): void => setPalette(read())
    media.addEventListener('change', again)
    return () => media.removeEventListener('change', again)
  }, [])
  return palette
}

/** Places on the hue scale: pH, and which ink. */
export const HUES = [
  [5, 'acid'],
  [6.6, 'neutral'],
  [8.2, 'alkaline'],
] as const

/** An ink whose hue follows the pH: ochre where acid, blue where alkaline. */
export function phInk(u: uPlot, palette: Palette): CanvasGradient | string {
  const { min, max } = u.scales['y'] ?? {}
  if (typeof min !== 'number' || typeof max !== 'number' || !(max > min)) return palette.ink
  const y = (ph: number): number => u.valToPos(ph, 'y', true)
  const [low, , high] = HUES
  const top = y(high[0])
  const bottom = y(low[0])
  if (!Number.isFinite(top) || !Number.isFinite(bottom)) return palette.ink
  const gradient = u.ctx.createLinearGradient(0, bottom, 0, top)
  for (const [ph, name] of HUES)
    gradient.addColorStop((ph - low[0]) / (high[0] - low[0]), palette[name])
  return gradient
}

/** Where a pH lies on the hue scale, 0 (acid end) to 1 (alkaline end), for the style sheet. */
export function huePlace(ph: number): number {
  const [low, , high] = HUES
  return Math.min(1, Math.max(0, (ph - low[0]) / (high[0] - low[0])))
}
