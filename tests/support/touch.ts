import type { CDPSession, Page } from 'playwright-core'

export interface Spot {
  readonly x: number
  readonly y: number
}

export interface Touch {
  /** Moves fingers from where they are put down to where they are lifted, in some steps. */
  swipe(from: readonly Spot[], to: readonly Spot[], steps?: number): Promise<void>
  tap(at: Spot): Promise<void>
}

/** Fingers on the screen of a page that was opened with `hasTouch`. */
export async function touch(page: Page): Promise<Touch> {
  const session: CDPSession = await page.context().newCDPSession(page)
  const send = (
    type: 'touchStart' | 'touchMove' | 'touchEnd',
    points: readonly Spot[],
  ): Promise<unknown> =>
    session.send('Input.dispatchTouchEvent', {
      type,
      touchPoints: points.map(({ x, y }, id) => ({ x, y, id })),
    })
  return {
    async swipe(from, to, steps = 8) {
      await send('touchStart', from)
      for (let i = 1; i <= steps; i++) {
        const part = i / steps
        const between = from.map((start, f) => ({
          x: start.x + part * ((to[f]?.x ?? start.x) - start.x),
          y: start.y + part * ((to[f]?.y ?? start.y) - start.y),
        }))
        await send('touchMove', between)
        await page.evaluate('new Promise((done) => requestAnimationFrame(done))')
      }
      await send('touchEnd', [])
    },
    async tap(at) {
      await send('touchStart', [at])
      await send('touchEnd', [])
    },
  }
}
