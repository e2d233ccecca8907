/**
 * A process to be killed: appends batches of 50 readings to the stores of a folder, one after another,
 * and writes a line with the last sequence number after each acknowledgement.
 *
 *     node append-and-wait.ts <folder> [first sequence number]
 */
import { openStores } from '#hub/store/open.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'

const SIZE = 50

const [folder = '', first = '0'] = process.argv.slice(2)
const { readings } = await openStores(folder, {
  onTrouble: (error) => console.log(`trouble ${error.message}`),
})
console.log('open')
for (let from = Number(first); ; from += SIZE) {
  try {
    await readings.append(
      batchOf({
        readings: Array.from({ length: SIZE }, (_, i) =>
          sampleReading({ seq: from + i, values: { e1: (from + i) / 10, m1: 1800, t1: 18.25 } }),
        ),
      }),
    )
  } catch (error) {
    console.log(`refused ${(error as { code?: string }).code} ${(error as Error).message}`)
    break
  }
  console.log(`kept ${from + SIZE - 1}`)
}
