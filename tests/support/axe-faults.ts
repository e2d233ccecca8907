import axe from 'axe-core'
import type { Page } from 'playwright-core'

/** WCAG 2.2, A and AA, and what is good practice besides. */
const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']

interface Violation {
  readonly id: string
  readonly impact: string | null
  readonly help: string
  readonly nodes: readonly { readonly target: readonly string[]; readonly failureSummary: string }[]
}

/** What axe-core finds serious or critical on the page as it is now, each with its place. */
export async function axeFaults(page: Page): Promise<string[]> {
  // Evaluated by the browser itself: the page's own rules let no other script in.
  await page.evaluate(axe.source)
  const { violations } = await page.evaluate<{ violations: Violation[] }>(
    `axe.run(document, { resultTypes: ['violations'], runOnly: ${JSON.stringify(RULES)} })`,
  )
  return violations
    .filter(({ impact }) => impact === 'serious' || impact === 'critical')
    .flatMap(({ id, help, nodes }) =>
      nodes.map((node) => `${id}: ${help} at ${node.target.join(' ')}: ${node.failureSummary}`),
    )
}
