import type { MoistureScale, SpotHistory } from '../measure/spot-history.ts'

/**
 * The moisture scale most probes of a bed report on. Shares of a probe's range and volumes of water cannot be
 * averaged; on a tie volumes win.
 */
export function commonMoistureScale(histories: readonly SpotHistory[]): MoistureScale {
  const n = (scale: MoistureScale): number =>
    histories.filter(({ moistureScale }) => moistureScale === scale).length
  if (n('volume') === 0 && n('probe range') === 0) return 'unknown'
  return n('volume') >= n('probe range') ? 'volume' : 'probe range'
}
