import type { BedReviewView } from '../../../../hub/api/schemas/review.ts'
import type { Trial } from '../../../../hub/api/schemas/trial.ts'
import { say } from '../../say.ts'
import { Finding } from '../findings/finding.tsx'
import { Link } from '../link.tsx'
import { Tried } from './tried.tsx'
import { Treatments } from './treatments.tsx'

/** One bed looked back on, and what it will want next. */
export function BedReviewed({
  review,
  trials,
}: {
  review: BedReviewView
  trials: readonly Trial[]
}) {
  return (
    <Finding id={`reviewed-${review.bedId}`} title={review.bed}>
      <p class="sentence">{review.sentence}</p>
      <Treatments treatments={review.treatments} bed={review.bed} />
      <Tried trials={trials} />
      <p class="sentence">{review.nextSentence}</p>
      <p class="links">
        <Link to={{ page: 'bed', id: review.bedId }}>
          {say`The bed`}
          <span class="unseen"> {review.bed}</span>
        </Link>
        <Link to={{ page: 'plan', id: review.bedId }}>
          {say`Decide what to do`}
          <span class="unseen"> {say`in ${review.bed}`}</span>
        </Link>
        <Link to={{ page: 'report', bed: review.bedId }}>
          {say`Report of the season`}
          <span class="unseen"> {say`of ${review.bed}`}</span>
        </Link>
      </p>
    </Finding>
  )
}
