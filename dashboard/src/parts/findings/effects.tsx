import { useMemo, useState } from 'preact/hooks'
import type { EffectAnswer, EffectView, Findings } from '../../../../hub/api/schemas/findings.ts'
import { EffectChart } from '../../chart/effect-chart.tsx'
import { atMost, daysWriter, phChangeWriter, signed, withDoubt } from '../../doubt.ts'
import { effectsSentence, halfLifeWords } from '../../effect-words.ts'
import { dateOnly, localeOf } from '../../format.ts'
import type { Units } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { opening } from '../../opening.ts'
import { said, say, toSay } from '../../say.ts'
import { timeTicks } from '../../zone.ts'
import { ChartFigure } from '../figure/chart-figure.tsx'
import { tableOf } from '../figure/figure-table.ts'
import type { FigureTable } from '../figure/figure-table.ts'
import { Facts, Finding, Why } from './finding.tsx'
import { weightText } from '../../weight-words.ts'

const DAY = 86_400_000
/** Treatments shown before asking for all. */
const AT_FIRST = 2

const QUESTIONS: Readonly<Record<EffectAnswer['question'], string>> = {
  'above where it was': toSay('Against where the bed was'),
  'advantage over untreated': toSay('Against untreated beds'),
}

/** What the chart of an answer shows. */
function chartWords(answer: EffectAnswer): string {
  const fitted = answer.curve !== null
  if (answer.question === 'above where it was') {
    return fitted
      ? say`Rings are weeks, the line the fitted course with its 95 % interval; the broken line is where the bed was, the triangle when it was put on.`
      : say`Rings are weeks; the broken line is where the bed was, the triangle when it was put on.`
  }
  return fitted
    ? say`Rings are weeks, the line the fitted course with its 95 % interval; the broken line is as much as untreated, the triangle when it was put on.`
    : say`Rings are weeks; the broken line is as much as untreated, the triangle when it was put on.`
}

/** The fitted course, and the weeks it is fitted to. */
function effectTable({ curve, points }: EffectAnswer, units: Units): FigureTable {
  const n = (x: number | null | undefined): string => signed(x, 2, units)
  if (curve === null) {
    const value = points?.value ?? []
    return tableOf({
      caption: say`pH against the level before, by weeks`,
      time: points?.time ?? [],
      known: [value],
      decimals: 2,
      days: true,
      columns: [
        {
          head: say`Change, pH`,
          shown: (i) => n(value[i]),
          files: [{ head: say`Change, pH`, value: (i) => value[i] }],
        },
      ],
    })
  }
  return tableOf({
    caption: say`pH against the level before, fitted`,
    time: curve.time,
    known: [curve.value],
    decimals: 2,
    days: true,
    columns: [
      {
        head: say`Change, pH`,
        shown: (i) => n(curve.value[i]),
        files: [{ head: say`Change, pH`, value: (i) => curve.value[i] }],
      },
      {
        head: say`95 % interval`,
        shown: (i) => say`${n(curve.low[i])} to ${n(curve.high[i])}`,
        files: [
          { head: say`95 % interval from`, value: (i) => curve.low[i] },
          { head: say`95 % interval to`, value: (i) => curve.high[i] },
        ],
      },
    ],
  })
}

function Answer({ answer, effect }: { answer: EffectAnswer; effect: EffectView }) {
  const { garden } = useHub()
  const { units } = garden
  const times = [...(answer.points?.time ?? []), ...(answer.curve?.time ?? [])]
  const drawn = times.length > 0
  const range = useMemo(() => {
    const from = Math.min(effect.at - 14 * DAY, ...times)
    const to = Math.max(effect.at + 30 * DAY, ...times)
    return { from, to: to + 0.02 * (to - from) }
  }, [answer, effect.at])
  const ticks = useMemo(
    () => timeTicks(range.from, range.to, { zone: garden.zone, locale: localeOf(units), most: 5 }),
    [range, garden.zone, units],
  )
  const pH = phChangeWriter(units)
  const worked = answer.verdict === 'effect'
  const days = (x: EffectAnswer['onsetDays']): string | null =>
    x === null ? null : withDoubt(x, daysWriter(x, units))
  return (
    <div class="one-answer">
      <div>
        <h5>
          {said(QUESTIONS[answer.question])}
          {answer.controls.length > 0 && <span class="faint"> ({answer.controls.join(', ')})</span>}
        </h5>
        <p class="sentence">{answer.sentence}</p>
      </div>
      <div>
        {drawn && (
          <ChartFigure
            name={say`The course`}
            unit={say`change of the pH`}
            of={`${said(effect.material)}, ${dateOnly(effect.at, garden)}`}
            summary={chartWords(answer)}
            words="below"
            legend={[
              { sign: 'line', words: say`the fitted course` },
              { sign: 'shade', words: say`its 95 % interval` },
              { sign: 'dots', words: say`weeks` },
              { sign: '▲', words: say`put on` },
            ]}
            table={() => effectTable(answer, units)}
          >
            <EffectChart
              answer={answer}
              at={effect.at}
              range={range}
              ticks={ticks}
              units={units}
              zone={garden.zone}
              name={say`The course`}
            />
          </ChartFigure>
        )}
        {answer.verdict !== 'insufficient' && (
          <Facts
            rows={[
              [
                say`No measurable effect`,
                answer.notLargerThan === null
                  ? null
                  : say`larger than ${atMost(answer.notLargerThan, units)} pH`,
              ],
              [say`Began after`, days(answer.onsetDays)],
              [say`Highest`, answer.peak === null || !worked ? null : withDoubt(answer.peak, pH)],
              [say`Highest after`, days(answer.peakDays)],
              [say`Now`, answer.present === null || !worked ? null : withDoubt(answer.present, pH)],
              [say`Half of it lasts`, worked ? halfLifeWords(answer.halfLife, units) : null],
              [
                say`Half gone by`,
                answer.halfBackAt === null
                  ? null
                  : say`about ${dateOnly(answer.halfBackAt, garden)}`,
              ],
            ]}
          />
        )}
        <Why of={said(QUESTIONS[answer.question])} grounds={answer.grounds} />
      </div>
    </div>
  )
}

/** What the material is known to do: its first sentence, with sources and cautions behind it. */
function Expected({ text, of }: { text: string; of: string }) {
  const [first, rest] = opening(text)
  if (rest === '') return <p class="faint">{say`Expected: ${text}`}</p>
  return (
    <details class="why faint">
      <summary>
        {say`Expected: ${first}`} <span class="more">{say`Sources and cautions`}</span>
        <span class="unseen"> {say`of ${of}`}</span>
      </summary>
      <p>{rest}</p>
    </details>
  )
}

/** What each treatment in the journal did. */
export function Effects({
  findings,
  onEntry,
}: {
  findings: Findings
  onEntry: (id: number) => void
}) {
  const { garden } = useHub()
  const [all, setAll] = useState(false)
  const newestFirst = findings.effects.toSorted((a, b) => b.at - a.at)
  const shown = all ? newestFirst : newestFirst.slice(0, AT_FIRST)
  return (
    <Finding id="effects" title={say`What amendments did`}>
      <p class="sentence">{effectsSentence(newestFirst)}</p>
      {shown.map((effect) => (
        <div class="effect" key={effect.journalId} data-effect={effect.journalId}>
          <h4>
            {said(effect.material)}
            {effect.amountG !== null && `, ${weightText(effect.amountG, garden.units)}`},{' '}
            {dateOnly(effect.at, garden)}
          </h4>
          <Expected text={effect.expected} of={said(effect.material)} />
          <div class="answers">
            {effect.answers.map((answer) => (
              <Answer key={answer.question} answer={answer} effect={effect} />
            ))}
          </div>
          <p class="event-links">
            <button type="button" class="quiet" onClick={() => onEntry(effect.journalId)}>
              {say`Go to the journal entry`}
              <span class="unseen">
                {' '}
                {say`of ${said(effect.material)}, ${dateOnly(effect.at, garden)}`}
              </span>
            </button>
          </p>
        </div>
      ))}
      {newestFirst.length > AT_FIRST && (
        <p>
          <button type="button" aria-expanded={all} onClick={() => setAll(!all)}>
            {all
              ? say`Show the newest ${AT_FIRST} only`
              : say`Show all ${newestFirst.length} treatments`}
          </button>
        </p>
      )}
    </Finding>
  )
}
