import { createContext } from 'preact'
import type { Palette } from './palette.ts'

/** Draws a chart anew, `width` CSS px wide, in other colours. */
export type DrawAgain = (palette: Palette, width: number) => Promise<HTMLCanvasElement>

/** Where a chart leaves how it is drawn, for the figure it stands in. */
export const PicturePlace = createContext<{ current: DrawAgain | null } | null>(null)
