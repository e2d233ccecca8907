import type { Alarm } from '../../hub/api/schemas/alarm.ts'
import type { BedView } from '../../hub/api/schemas/bed.ts'
import type { Problem } from '../../hub/api/schemas/common.ts'
import type { Garden } from '../../hub/api/schemas/garden.ts'
import type { Health } from '../../hub/api/schemas/health.ts'
import type { JobView } from '../../hub/api/schemas/job.ts'
import type { LiveEvent } from '../../hub/api/schemas/live.ts'
import type { ProbeView } from '../../hub/api/schemas/probe.ts'
import { say } from './say.ts'

export type Connection = 'connecting' | 'open' | 'lost'

/** All that more than one page needs. */
export interface HubState {
  readonly garden: Garden
  readonly beds: readonly BedView[]
  readonly probes: readonly ProbeView[]
  readonly health: Health | null
  /** Whether the first fetch has come through. */
  readonly loaded: boolean
  /** Why the last fetch did not. */
  readonly problem: Problem | null
  readonly connection: Connection
  /** When the hub was last heard, epoch ms on the browser's clock. */
  readonly heardAt: number | null
  /** Hub's clock minus the browser's, ms. */
  readonly aheadMs: number
  /** Count up with every live event about the bed, its journal, any probe, any alarm. */
  readonly bedTicks: Readonly<Record<number, number>>
  readonly journalTicks: Readonly<Record<number, number>>
  readonly probeTick: number
  readonly alarmTick: number
  /** Counts up when a message or a route for messages got on. */
  readonly messageTick: number
  /** Long work that was heard of, by its number; those of another run of the hub are forgotten. */
  readonly jobs: Readonly<Record<number, JobView>>
  /** The alarm that was raised last, for those who listen. */
  readonly announcement: string
}

export const EMPTY: HubState = {
  garden: { name: '', zone: 'UTC', units: 'metric', language: 'en' },
  beds: [],
  probes: [],
  health: null,
  loaded: false,
  problem: null,
  connection: 'connecting',
  heardAt: null,
  aheadMs: 0,
  bedTicks: {},
  journalTicks: {},
  probeTick: 0,
  alarmTick: 0,
  jobs: {},
  messageTick: 0,
  announcement: '',
}

export interface Fetched {
  readonly garden?: Garden
  readonly beds?: readonly BedView[]
  readonly probes?: readonly ProbeView[]
  readonly health?: Health
}
export type Action =
  | {
      readonly type: 'fetched'
      readonly what: Fetched
      /** When the oldest of it came. */
      readonly at: number
      /** When the hub told its time, if it did. @default at */
      readonly healthAt?: number
    }
  | { readonly type: 'failed'; readonly problem: Problem }
  | { readonly type: 'live'; readonly event: LiveEvent; readonly at: number }
  | { readonly type: 'connection'; readonly state: Connection; readonly at: number }
  /** Something was missed: whatever was fetched may have changed. */
  | { readonly type: 'reset' }

const byRank = (a: BedView, b: BedView): number => a.rank - b.rank || a.id - b.id
const inUse = (beds: readonly BedView[]): BedView[] =>
  beds.filter((bed) => bed.retiredAt === null).toSorted(byRank)
const countUp = (ticks: Readonly<Record<number, number>>, id: number): Record<number, number> => ({
  ...ticks,
  [id]: (ticks[id] ?? 0) + 1,
})

/** The bed with an alarm put in, replaced, or taken out because it is over. */
export function withAlarm(bed: BedView, alarm: Alarm): BedView {
  if (bed.id !== alarm.bedId) return bed
  const others = bed.alarms.filter((a) => a.id !== alarm.id)
  const alarms = alarm.state === 'normal' ? others : [...others, alarm]
  return { ...bed, alarms: alarms.toSorted((a, b) => b.raisedAt - a.raisedAt) }
}

const announced = ({ bed, sentence }: Alarm): string =>
  bed === null ? say`Alarm: ${sentence}` : say`Alarm, ${bed}: ${sentence}`

function onLive(state: HubState, event: LiveEvent): HubState {
  switch (event.event) {
    case 'bed': {
      const bed = event.data
      return {
        ...state,
        beds: inUse([...state.beds.filter((b) => b.id !== bed.id), bed]),
        bedTicks: countUp(state.bedTicks, bed.id),
      }
    }
    case 'alarm': {
      const alarm = event.data
      const known = state.beds.some((bed) => bed.alarms.some((a) => a.id === alarm.id))
      const raised = alarm.state === 'unacknowledged' && !known
      return {
        ...state,
        beds: state.beds.map((bed) => withAlarm(bed, alarm)),
        alarmTick: state.alarmTick + 1,
        announcement: raised ? announced(alarm) : state.announcement,
      }
    }
    case 'journal':
      return { ...state, journalTicks: countUp(state.journalTicks, event.data.bedId) }
    case 'health':
      return { ...state, health: event.data }
    case 'probes':
      return { ...state, probeTick: state.probeTick + 1 }
    case 'job':
      return { ...state, jobs: { ...state.jobs, [event.data.id]: event.data } }
    case 'messages':
      return { ...state, messageTick: state.messageTick + 1 }
    case 'beds':
      return state
  }
}

/** Everything that pages fetched for themselves is fetched again. */
const outdated = (state: HubState): HubState => ({
  ...state,
  bedTicks: state.beds.reduce((ticks, { id }) => countUp(ticks, id), state.bedTicks),
  journalTicks: state.beds.reduce((ticks, { id }) => countUp(ticks, id), state.journalTicks),
  probeTick: state.probeTick + 1,
  alarmTick: state.alarmTick + 1,
  messageTick: state.messageTick + 1,
})

/** The next state; pure. */
export function hubReducer(state: HubState, action: Action): HubState {
  switch (action.type) {
    case 'fetched': {
      const { garden, beds, probes, health } = action.what
      // Sentences are told by the hub: in other units or another language they are others.
      const told =
        garden === undefined ||
        (garden.units === state.garden.units && garden.language === state.garden.language)
      return {
        ...(told || !state.loaded ? state : outdated(state)),
        loaded: true,
        problem: null,
        heardAt: action.at,
        garden: garden ?? state.garden,
        beds: beds === undefined ? state.beds : inUse(beds),
        probes: probes ?? state.probes,
        health: health ?? state.health,
        aheadMs: health === undefined ? state.aheadMs : health.now - (action.healthAt ?? action.at),
      }
    }
    case 'failed':
      return { ...state, problem: action.problem }
    case 'live':
      return { ...onLive(state, action.event), heardAt: action.at }
    case 'reset':
      return { ...outdated(state), jobs: {} }
    case 'connection':
      return {
        ...state,
        connection: action.state,
        heardAt: action.state === 'open' ? action.at : state.heardAt,
      }
  }
}
