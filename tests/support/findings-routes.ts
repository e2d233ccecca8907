import type { Page, Route } from 'playwright-core'
import type { Findings } from '#hub/api/schemas/findings.ts'
import { inventedQuality, inventedSeries } from './findings-fixture.ts'

const answer = (route: Route, body: unknown): Promise<void> =>
  route.fulfill({ status: 200, contentType: 'application/json', body: JSON.stringify(body) })

/**
 * Puts invented findings and histories in front of a hub, so that states that are rare in a
 * young garden can be looked at. Everything else of the API answers for real.
 */
export async function inventFindings(
  page: Page,
  findingsOf: (bedId: number) => Findings,
  now: number,
): Promise<void> {
  const bedOf = (url: string): number => Number(/\/beds\/(\d+)\//.exec(url)?.[1])
  await page.route('**/api/beds/*/findings', (route) =>
    answer(route, findingsOf(bedOf(route.request().url()))),
  )
  await page.route('**/api/beds/*/series?*', (route) => {
    const url = new URL(route.request().url())
    const quantity = url.searchParams.get('quantity')
    if (quantity !== 'ph' && quantity !== 'moisture' && quantity !== 'temperature') {
      throw new Error(`no history of ${String(quantity)} is invented`)
    }
    const asked = {
      from: Number(url.searchParams.get('from')),
      to: Number(url.searchParams.get('to')),
    }
    return answer(route, inventedSeries(bedOf(url.pathname), quantity, asked, now))
  })
  await page.route('**/api/beds/*/quality?*', (route) =>
    answer(route, inventedQuality(bedOf(route.request().url()), now)),
  )
}
