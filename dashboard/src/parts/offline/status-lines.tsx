import { age, clockTime, dateTime } from '../../format.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { useWaiting } from '../../use-waiting.ts'
import type { Waiting } from '../../waiting-store.ts'
import { useWorkerNews } from './use-worker-news.ts'

const HALF_A_DAY = 43_200_000

/** How old what is on the page is, when it is no longer kept fresh. */
function ConnectionLine() {
  const { connection, heardAt, aheadMs, garden, problem } = useHub()
  const now = useNow()
  const { state } = useWorkerNews()
  if (connection !== 'lost' && problem === null) return null
  const heard = heardAt === null ? null : heardAt + aheadMs
  const asOf =
    heard === null
      ? say`nothing fetched yet`
      : now - heard < HALF_A_DAY
        ? say`data as of ${clockTime(heard, garden)} (${age(heard, now)})`
        : say`data as of ${dateTime(heard, garden)} (${age(heard, now)})`
  const what = problem !== null && connection !== 'lost' ? problem.title : say`Connection lost`
  return (
    <p role="status" data-testid="connection">
      {say`${what}, ${asOf}, retrying`}
      {heard !== null && state === 'not secure' && (
        <small>
          {' '}
          {say`Keep this page open: without HTTPS the browser cannot open it again until the hub is back.`}
        </small>
      )}
    </p>
  )
}

/** How much waits on this device. */
function WaitingLine({ waiting }: { waiting: readonly Waiting[] }) {
  const refused = waiting.filter(({ problem }) => problem !== null).length
  if (waiting.length === 0) return null
  return (
    <p role="status" data-testid="waiting">
      {waiting.length === 1
        ? say`1 entry waits on this device to be sent.`
        : say`${waiting.length} entries wait on this device to be sent.`}{' '}
      {refused > 0 &&
        (refused === 1
          ? say`The hub does not take 1 of them as it is: see the journal.`
          : say`The hub does not take ${refused} of them as they are: see the journal.`)}
    </p>
  )
}

/** A newer dashboard is there. */
function VersionLine() {
  const { takeOver } = useWorkerNews()
  if (takeOver === null) return null
  return (
    <p role="status" data-testid="new-version">
      {say`A new version of these pages is ready.`}{' '}
      <button type="button" onClick={takeOver}>
        {say`Use it now`}
      </button>
    </p>
  )
}

/** What the gardener should know about connection, entries that wait, and the pages themselves. */
export function StatusLines() {
  const { connection, problem } = useHub()
  const waiting = useWaiting()
  const { takeOver } = useWorkerNews()
  if (connection !== 'lost' && problem === null && waiting.length === 0 && takeOver === null) {
    return null
  }
  return (
    <div class="connection">
      <ConnectionLine />
      <WaitingLine waiting={waiting} />
      <VersionLine />
    </div>
  )
}
