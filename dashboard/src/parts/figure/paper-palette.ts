import { paletteOf } from '../../chart/palette.ts'
import type { Palette } from '../../chart/palette.ts'

/** The colours of a light screen, whatever the screen is now: for pictures on white. */
export function paperPalette(): Palette {
  const light = new Map<string, string>()
  for (const sheet of document.styleSheets) {
    for (const rule of sheet.cssRules) {
      // What holds for the dark only stands within a rule for the dark.
      if (!(rule instanceof CSSStyleRule) || rule.selectorText !== ':root') continue
      for (const name of rule.style) light.set(name, rule.style.getPropertyValue(name).trim())
    }
  }
  const now = getComputedStyle(document.documentElement)
  return paletteOf((name) => light.get(name) ?? now.getPropertyValue(name).trim())
}
