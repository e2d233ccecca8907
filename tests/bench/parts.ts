import type { BenchPart } from './row.ts'

/** Every part of the bench by name, in the order of the table. Each runs in a process of its own. */
export const PARTS: Readonly<Record<string, () => Promise<BenchPart>>> = {
  ingest: () => import('./ingest.ts'),
  latency: () => import('./latency.ts'),
  size: () => import('./size.ts'),
  views: () => import('./views.ts'),
  analysis: () => import('./analysis.ts'),
  memory: () => import('./memory.ts'),
  influx: () => import('./influx.ts'),
  relay: () => import('./relay.ts'),
  thinning: () => import('./thinning.ts'),
  dashboard: () => import('./dashboard.ts'),
}
