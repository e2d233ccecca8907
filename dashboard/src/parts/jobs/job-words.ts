import type { JobView } from '../../../../hub/api/schemas/job.ts'
import { saidPeriod } from './period.ts'
import { said, say, toSay } from '../../say.ts'

const KINDS: Readonly<Record<JobView['kind'], string>> = {
  import: toSay('Import of a file'),
  replay: toSay('Replay of the past'),
  backup: toSay('Backup'),
  rebuild: toSay('Hours and days made anew'),
  thin: toSay('Old readings become hours'),
  compact: toSay('Space given back'),
}

export const kindWords = ({ kind }: JobView): string => said(KINDS[kind])

export const isOver = ({ endedAt }: JobView): boolean => endedAt !== null

/** How far a job is, or how it ended, in one sentence. */
export function stateWords(job: JobView): string {
  const { state, share, leftMs, kept, reason } = job
  switch (state) {
    case 'running': {
      if (share === null) return say`Has begun.`
      const percent = Math.floor(100 * share)
      return leftMs === null
        ? say`${percent} % done.`
        : say`${percent} % done, about ${saidPeriod(leftMs)} more.`
    }
    case 'cancelling':
      return say`Comes to a clean end.`
    case 'done':
      return doneWords(job)
    case 'cancelled':
      return kept === null
        ? say`Given up; nothing was changed.`
        : job.kind === 'import'
          ? say`Given up; ${kept.done} of ${kept.of} new readings are stored. The same file again brings the rest.`
          : job.kind === 'thin'
            ? say`Given up; ${kept.done} of ${kept.of} days of probes are gone through, the rest is as it was.`
            : say`Given up; ${kept.done} of ${kept.of} days of series are made anew, the rest is as it was.`
    case 'failed':
      return say`Failed: ${reason ?? ''}`
  }
}

function doneWords({ kind, done, replayed }: JobView): string {
  const n = done ?? 0
  switch (kind) {
    case 'import':
      return n === 1 ? say`Done: 1 reading stored.` : say`Done: ${n} readings stored.`
    case 'backup':
      return say`Done: ${Math.max(1, Math.round(n / 1024))} KiB copied.`
    case 'rebuild':
      return say`Done: ${n} days of series made anew.`
    case 'thin':
      return n === 1
        ? say`Done: 1 reading became part of its hour.`
        : say`Done: ${n} readings became hours.`
    case 'compact':
      return say`Done: ${Math.round(n / 1024)} KiB given back to the disk.`
    case 'replay':
      return say`Done: ${n} hours gone through; changes of level: ${replayed?.changesCount ?? 0}, alarms: ${replayed?.alarmsCount ?? 0}.`
  }
}
