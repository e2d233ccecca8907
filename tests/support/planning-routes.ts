import type { Page } from 'playwright-core'
import type {
  Decision,
  PlanInput,
  PlanView,
  SoilInput,
  SoilTestInput,
  SoilTestView,
} from '#hub/api/schemas/planning.ts'
import { inventedDraft, inventedPlan } from './planning-fixture.ts'

/** What a page sent, in order. */
export interface Sent {
  readonly method: string
  readonly path: string
  readonly body: unknown
}

/** A JPEG of one grey pixel. */
const GREY_JPEG = Buffer.from(
  '/9j/4AAQSkZJRgABAQEAYABgAAD/2wBDAAMCAgICAgMCAgIDAwMDBAYEBAQEBAgGBgUGCQgKCgkICQkKDA8MCgsOCwkJDRENDg8QEBEQCgwSExIQEw8QEBD/yQALCAABAAEBAREA/8wABgAQEAX/2gAIAQEAAD8A0s8g/9k=',
  'base64',
)

/**
 * Puts invented decisions, plans and photos in front of a hub; every change a page sends is remembered and shown in
 * what it fetches next. Everything else of the API answers for real, photos of other entries than the invented one too.
 *
 * @param entryId journal entry that a portion is written down as
 */
export async function inventPlanning(
  page: Page,
  first: Decision,
  now: number,
  entryId = 91,
): Promise<{ readonly sent: readonly Sent[]; readonly decision: () => Decision }> {
  const sent: Sent[] = []
  let decision = first
  const done = (plan: PlanView, n: number, body: { at: number; amountG: number }): PlanView =>
    inventedPlan(plan.bedId, now, {
      done: n,
      next: null,
      stages: plan.stages.map((stage, i) =>
        i === n - 1
          ? {
              ...stage,
              entry: {
                ...inventedPlan(plan.bedId, now).stages[0]!.entry!,
                id: entryId,
                at: body.at,
                amountG: body.amountG,
              },
            }
          : stage,
      ),
    })
  const answers: readonly [string, RegExp, (body: never, match: RegExpExecArray) => unknown][] = [
    ['GET', /\/beds\/\d+\/decision/, () => decision],
    ['GET', /\/beds\/\d+\/plans$/, () => (decision.running === null ? [] : [decision.running])],
    ['GET', /\/beds\/\d+\/photos$/, () => [70]],
    ['POST', /\/plans\/draft$/, ({ strength }: PlanInput) => inventedDraft(now, strength ?? 0.9)],
    [
      'POST',
      /\/beds\/(\d+)\/plans$/,
      () => {
        const plan = inventedPlan(decision.bedId, now, { done: 0 })
        decision = { ...decision, running: plan }
        return plan
      },
    ],
    [
      'POST',
      /\/plans\/\d+\/stages\/(\d+)\/done$/,
      (body: { at: number; amountG: number }, match) => {
        const plan = done(decision.running!, Number(match[1]), body)
        decision = { ...decision, running: plan }
        return plan
      },
    ],
    [
      'POST',
      /\/plans\/\d+\/close$/,
      ({ ending }: { ending: NonNullable<PlanView['ending']> }) => {
        const plan = { ...decision.running!, closedAt: now, ending, next: null, stop: null }
        decision = { ...decision, running: null, past: [plan, ...decision.past] }
        return plan
      },
    ],
    [
      'PUT',
      /\/soil$/,
      (soil: SoilInput) => {
        decision = { ...decision, soil }
        return soil
      },
    ],
    [
      'POST',
      /\/soil-tests$/,
      (test: SoilTestInput) => {
        const view: SoilTestView = {
          id: 60 + decision.tests.length,
          bedId: decision.bedId,
          at: test.at,
          kind: test.kind,
          text: test.text ?? '',
          sentence: `A ${test.kind} was written down.`,
        }
        decision = { ...decision, tests: [...decision.tests, view] }
        return view
      },
    ],
    [
      'DELETE',
      /\/soil-tests\/(\d+)$/,
      (_body, match) => {
        const tests = decision.tests.filter(({ id }) => id !== Number(match[1]))
        decision = { ...decision, tests }
        return null
      },
    ],
  ]
  await page.route(/\/api\/journal\/70\/photo$/, (route) =>
    route.fulfill({ contentType: 'image/jpeg', body: GREY_JPEG }),
  )
  await page.route(/\/api\//, (route) => {
    const request = route.request()
    const path = new URL(request.url()).pathname
    for (const [method, pattern, answer] of answers) {
      const match = pattern.exec(path)
      if (request.method() !== method || match === null) continue
      const body: unknown = request.postDataJSON()
      if (method !== 'GET') sent.push({ method, path, body })
      const said = answer(body as never, match)
      return said === null
        ? route.fulfill({ status: 204 })
        : route.fulfill({ contentType: 'application/json', body: JSON.stringify(said) })
    }
    return route.fallback()
  })
  return { sent, decision: () => decision }
}
