import type { Findings } from '../../../../hub/api/schemas/findings.ts'
import { signed } from '../../doubt.ts'
import { num } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Facts, Finding } from './finding.tsx'

/** Whether the bed has enough spots for what is asked of it. */
export function SpotsNeeded({ findings }: { findings: Findings }) {
  const { garden } = useHub()
  const { spots } = findings
  const { units } = garden
  return (
    <Finding id="spots-needed" title={say`How many spots`}>
      <p class="sentence">{spots.sentence}</p>
      <Facts
        rows={[
          [
            say`Worth`,
            spots.effective === null
              ? null
              : say`${num(spots.effective, 1, units)} independent spots`,
          ],
          [say`Gives`, spots.halfWidth === null ? null : `± ${num(spots.halfWidth, 2, units)} pH`],
          [say`For ± 0.2 pH`, spots.needed === null ? null : say`${spots.needed} spots`],
          [
            say`Apart from the rest`,
            spots.outlying === null
              ? null
              : say`${spots.outlying.spot}, by ${signed(spots.outlying.by, 2, units)}`,
          ],
        ]}
      />
    </Finding>
  )
}
