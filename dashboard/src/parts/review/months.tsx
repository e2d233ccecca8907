import type { SeasonReportView } from '../../../../hub/api/schemas/review.ts'
import { amount, num, toShown, unitName, whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { inBandWords, monthWords } from './review-words.ts'

/** A bed month by month. */
export function Months({ report }: { report: SeasonReportView }) {
  const { units } = useHub().garden
  return (
    <div class="scroll">
      <table class="months stack">
        <caption>{say`pH of ${report.bed} by month: median, lowest and highest day; soil temperature; water as written in the journal`}</caption>
        <thead>
          <tr>
            <th scope="col">{say`Month`}</th>
            <th scope="col" class="n">{say`Days with pH`}</th>
            <th scope="col" class="n">{say`Median`}</th>
            <th scope="col" class="n">{say`Lowest`}</th>
            <th scope="col" class="n">{say`Highest`}</th>
            <th scope="col" class="n">{say`In band`}</th>
            <th scope="col" class="n">{say`Soil`}</th>
            <th scope="col" class="n">{say`Water`}</th>
          </tr>
        </thead>
        <tbody>
          {report.months.map((month) => (
            <tr key={month.month}>
              <th scope="row">{monthWords(month.month, units)}</th>
              <td class="n" data-label={say`Days with pH`}>
                {whole(month.days, units)}
              </td>
              <td class="n" data-label={say`Median`}>
                {num(month.median, 2, units)}
              </td>
              <td class="n" data-label={say`Lowest`}>
                {num(month.lowest, 2, units)}
              </td>
              <td class="n" data-label={say`Highest`}>
                {num(month.highest, 2, units)}
              </td>
              <td class="n" data-label={say`In band`}>
                {inBandWords(month, units)}
              </td>
              <td class="n" data-label={say`Soil`}>
                {month.soilC === null
                  ? '–'
                  : `${num(toShown('temperature', month.soilC, units), 1, units)} ${unitName('temperature', units)}`}
              </td>
              <td class="n" data-label={say`Water`}>
                {month.waterL === 0 ? '–' : amount('volume', month.waterL, units)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}
