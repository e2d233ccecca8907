/** A chart that shows where the cursors of the others are. */
export interface CursorFollower {
  /** Epoch ms; null: nobody points at anything. */
  readonly follow: (at: number | null) => void
}

const followers = new Set<CursorFollower>()

/** One cursor for all charts of the page, by time: charts of another stretch show it where it lies within theirs. */
export function joinCursor(follower: CursorFollower): () => void {
  followers.add(follower)
  return () => followers.delete(follower)
}

/** Tells the other charts where the cursor of one went. */
export function shareCursor(from: CursorFollower, at: number | null): void {
  for (const follower of followers) if (follower !== from) follower.follow(at)
}
