import type { StorageView } from '../../../../hub/api/schemas/storage.ts'
import { dateOnly, num, whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { bytes } from './bytes.ts'

/** Readings of a probe that reads every quarter of an hour. */
const READINGS_A_YEAR = 4 * 24 * 365

/** What there is and what it takes. */
export function Facts({ storage }: { storage: StorageView }) {
  const { garden } = useHub()
  const { units } = garden
  const { folderBytes, disk, readings } = storage
  return (
    <dl class="facts">
      {folderBytes !== null && (
        <>
          <dt>{say`Data folder`}</dt>
          <dd>{bytes(folderBytes, units)}</dd>
        </>
      )}
      {disk !== null && (
        <>
          <dt>{say`Disk`}</dt>
          <dd>{say`${bytes(disk.freeBytes, units)} free of ${bytes(disk.totalBytes, units)}`}</dd>
        </>
      )}
      <dt>{say`Readings`}</dt>
      <dd>
        {readings === null
          ? say`in a database of its own, which has its own rules for what is old`
          : readings.bytesPerReading === null
            ? say`${whole(readings.kept, units)} kept whole`
            : say`${whole(readings.kept, units)} kept whole, ${num(readings.bytesPerReading, 1, units)} bytes each; a probe that reads every quarter of an hour takes ${bytes(READINGS_A_YEAR * readings.bytesPerReading, units)} a year`}
      </dd>
      {readings !== null && (
        <>
          <dt>{say`File of readings`}</dt>
          <dd>
            {readings.emptyBytes > 0
              ? say`${bytes(readings.bytes, units)}, of it ${bytes(readings.emptyBytes, units)} emptied for what comes next`
              : bytes(readings.bytes, units)}
          </dd>
        </>
      )}
      {readings !== null && readings.thinnedTo !== null && (
        <>
          <dt>{say`Hours instead of readings`}</dt>
          <dd>{say`${whole(readings.hours, units)}, ${bytes(readings.hourBytes, units)}, from before ${dateOnly(readings.thinnedTo, garden)}`}</dd>
        </>
      )}
    </dl>
  )
}
