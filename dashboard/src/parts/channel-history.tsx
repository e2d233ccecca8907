import { useMemo, useState } from 'preact/hooks'
import type { ChannelSeries, ProbeView as Probe } from '../../../hub/api/schemas/probe.ts'
import { api } from '../api.ts'
import { ChannelChart } from '../chart/channel-chart.tsx'
import { extent } from '../chart/columns.ts'
import { RANGE_DAYS, RANGE_WORDS, rangeBack } from '../chart/range.ts'
import { localeOf, upTo } from '../format.ts'
import { SENSED_WORDS, unitWords } from '../sensed-words.ts'
import type { Units } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { said, say } from '../say.ts'
import { timeTicks } from '../zone.ts'
import { DamagedNote, NO_DAMAGE } from './damaged-note.tsx'
import { Choice, Choices } from './field.tsx'
import { ChartFigure } from './figure/chart-figure.tsx'
import { tableOf } from './figure/figure-table.ts'
import type { FigureTable } from './figure/figure-table.ts'

const SPANS = ['day', 'week', 'month', 'year'] as const
const POINTS = 500

/** What one channel sent, step by step. */
function channelTable(series: ChannelSeries | null, units: Units, unit: string): FigureTable {
  const { time = [], median = [], min = [], max = [] } = series ?? {}
  const n = (x: number | null | undefined): string =>
    typeof x === 'number' ? `${upTo(x, 2, units)} ${unit}`.trim() : '–'
  const head = (words: string): string => `${words} ${unit}`.trim()
  return tableOf({
    caption: say`As sent, newest first`,
    time,
    known: [median],
    decimals: 2,
    columns: [
      {
        head: say`Middle`,
        shown: (i) => n(median[i]),
        files: [{ head: head(say`Middle`), value: (i) => median[i] }],
      },
      {
        head: say`Lowest to highest`,
        shown: (i) => say`${n(min[i])} to ${n(max[i])}`,
        files: [
          { head: head(say`Lowest`), value: (i) => min[i] },
          { head: head(say`Highest`), value: (i) => max[i] },
        ],
      },
    ],
  })
}

/** What one channel sent over time: where a cable, a dry contact or a settling electrode shows first. */
export function ChannelHistory({ probe }: { probe: Probe }) {
  const { garden, aheadMs } = useHub()
  const now = useNow()
  const first = probe.channels.find((c) => c.senses === 'ph.emf') ?? probe.channels[0]
  const [name, setName] = useState(first?.name ?? '')
  const [span, setSpan] = useState<(typeof SPANS)[number]>('day')
  const tick = Math.floor(now / 10_000)
  const range = useMemo(
    () => rangeBack(Date.now() + aheadMs, RANGE_DAYS[span]),
    [span, tick, aheadMs],
  )
  const channel = probe.channels.find((c) => c.name === name) ?? first
  const loaded = useLoad(
    channel === undefined ? null : `${probe.id} ${channel.name} ${span}`,
    (signal) => api.channelSeries(probe.id, { channel: name, ...range, points: POINTS }, signal),
    tick,
  )
  const ticks = useMemo(
    () =>
      timeTicks(range.from, range.to, {
        zone: garden.zone,
        locale: localeOf(garden.units),
        most: matchMedia('(max-width: 760px)').matches ? 4 : 10,
      }),
    [range, garden.zone, garden.units],
  )
  if (channel === undefined) return null
  const seen = loaded.data === null ? null : extent([loaded.data.min, loaded.data.max])
  const unit = unitWords(channel.unit)
  const n = (x: number): string => upTo(x, 2, garden.units)
  const summary =
    loaded.problem !== null
      ? say`Could not be fetched: ${loaded.problem.title}.`
      : loaded.data === null
        ? say`Fetching …`
        : seen === null
          ? say`Nothing came in this stretch of time.`
          : say`Between ${n(seen[0])} and ${n(seen[1])} ${unit}; the line is the middle, the shade lowest to highest.`
  return (
    <section class="sheet" aria-labelledby="as-sent">
      <h2 id="as-sent">{say`As sent`}</h2>
      <div class="fields">
        <Choice
          label={say`Channel`}
          value={channel.name}
          options={probe.channels.map((c) => ({
            value: c.name,
            words: `${c.name}, ${said(SENSED_WORDS[c.senses])}`,
          }))}
          onChange={setName}
        />
      </div>
      <div class="chart-tools">
        <Choices
          legend={say`Time shown`}
          value={span}
          options={SPANS.map((value) => ({ value, words: said(RANGE_WORDS[value]) }))}
          onChange={setSpan}
        />
      </div>
      <ChartFigure
        name={channel.name}
        unit={unit}
        of={probe.name}
        summary={summary}
        legend={[
          { sign: 'line', words: say`the middle of each step` },
          { sign: 'shade', words: say`lowest to highest` },
          ...(loaded.data?.damaged === undefined
            ? []
            : ([{ sign: 'hatch', words: say`missing, damaged on the disk` }] as const)),
        ]}
        table={() => channelTable(loaded.data, garden.units, unit)}
      >
        <ChannelChart
          series={loaded.data}
          range={range}
          ticks={ticks}
          units={garden.units}
          zone={garden.zone}
          unit={unit}
          name={channel.name}
        />
      </ChartFigure>
      <DamagedNote stretches={loaded.data?.damaged ?? NO_DAMAGE} />
    </section>
  )
}
