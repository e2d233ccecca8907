import type { Page, Route } from 'playwright-core'
import type { SeasonReportView } from '#hub/api/schemas/review.ts'
import { emptyBedReview, inventedReport, inventedReview } from './review-fixture.ts'
import type { Named } from './review-fixture.ts'

const answer = (route: Route, body: unknown): Promise<void> =>
  route.fulfill({ status: 200, contentType: 'application/json', body: JSON.stringify(body) })

/**
 * Puts an invented review and reports in front of a hub: years of treatments that a young garden has not had.
 * Settings, trials and everything else answer for real. The second bed is one nothing was put on.
 */
export async function inventReview(
  page: Page,
  beds: readonly [Named, Named],
  now: number,
): Promise<{ readonly periods: { from: number; to: number }[] }> {
  const periods: { from: number; to: number }[] = []
  const [full, empty] = beds
  const periodOf = (route: Route): { from: number; to: number } => {
    const { searchParams } = new URL(route.request().url())
    return { from: Number(searchParams.get('from')), to: Number(searchParams.get('to')) }
  }
  const reportOf = (bed: Named, period: { from: number; to: number }): SeasonReportView =>
    bed.id === empty.id
      ? inventedReport(bed, period, now, emptyBedReview(bed))
      : inventedReport(bed, period, now)
  await page.route('**/api/review', (route) => answer(route, inventedReview(full, empty, now)))
  await page.route('**/api/report?*', (route) => {
    const period = periodOf(route)
    periods.push(period)
    return answer(
      route,
      beds.map((bed) => reportOf(bed, period)),
    )
  })
  await page.route('**/api/beds/*/report?*', (route) => {
    const period = periodOf(route)
    periods.push(period)
    const id = Number(/\/beds\/(\d+)\//.exec(route.request().url())?.[1])
    const bed = beds.find((one) => one.id === id)
    return bed === undefined
      ? route.fulfill({ status: 404, contentType: 'application/json', body: '{}' })
      : answer(route, reportOf(bed, period))
  })
  return { periods }
}
