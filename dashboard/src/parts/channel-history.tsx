import { useMemo, useState } from 'preact/hooks'
import type { ProbeView as Probe } from '../../../hub/api/schemas/probe.ts'
import { api } from '../api.ts'
import { ChannelChart } from '../chart/channel-chart.tsx'
import { extent } from '../chart/columns.ts'
import { RANGE_DAYS, RANGE_WORDS, rangeBack } from '../chart/range.ts'
import { localeOf, SENSED_WORDS, unitWords, upTo } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { timeTicks } from '../zone.ts'
import { Choice, Choices } from './field.tsx'

const SPANS = ['day', 'week', 'month', 'year'] as const
const POINTS = 500

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
  return (
    <section class="sheet" aria-labelledby="as-sent">
      <h2 id="as-sent">As sent</h2>
      <div class="fields">
        <Choice
          label="Channel"
          value={channel.name}
          options={probe.channels.map((c) => ({
            value: c.name,
            words: `${c.name}, ${SENSED_WORDS[c.senses]}`,
          }))}
          onChange={setName}
        />
      </div>
      <div class="chart-tools">
        <Choices
          legend="Time shown"
          value={span}
          options={SPANS.map((value) => ({ value, words: RANGE_WORDS[value] }))}
          onChange={setSpan}
        />
      </div>
      <p class="faint">
        {loaded.problem !== null
          ? `Could not be fetched: ${loaded.problem.title}.`
          : loaded.data === null
            ? 'Fetching …'
            : seen === null
              ? 'Nothing came in this stretch of time.'
              : `Between ${upTo(seen[0], 2, garden.units)} and ${upTo(seen[1], 2, garden.units)} ${unit}; the line is the middle, the shade lowest to highest.`}
      </p>
      <ChannelChart series={loaded.data} range={range} ticks={ticks} units={garden.units} />
    </section>
  )
}
