/** Takes what it may hold at first and fills up again steadily: a mean rate with room for a burst. */
export interface TokenBucket {
  /** Takes `amount` at a time (ms) and says true, or takes nothing and says false. */
  take(amount: number, at: number): boolean
  /** Whether it is full again: nothing is owed. */
  isFull(at: number): boolean
}

/**
 * @param capacity most it can hold, and what it holds at first
 * @param perSecond how much flows in
 */
export function createTokenBucket(
  capacity: number,
  perSecond: number,
  startedAt: number,
): TokenBucket {
  let held = capacity
  let filledAt = startedAt
  function fill(at: number): void {
    // A clock that is set back makes nothing flow out.
    held = Math.min(capacity, held + (Math.max(0, at - filledAt) / 1000) * perSecond)
    filledAt = at
  }
  return {
    take(amount, at) {
      fill(at)
      if (held < amount) return false
      held -= amount
      return true
    },
    isFull(at) {
      fill(at)
      return held >= capacity
    },
  }
}
