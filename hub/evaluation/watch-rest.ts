import { advanceHub, advanceProbe } from '../alerts/advance.ts'
import type { HubLook } from '../alerts/hub-look.ts'
import type { ProbeLook } from '../alerts/probe-look.ts'
import { dueUnshelved } from '../alerts/operate.ts'
import { isSilent } from '../alerts/rules/probe-silent.ts'
import type { Alarm } from '../model/alarm.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import { manner } from '../words/say.ts'
import { probeLooks } from './probe-looks.ts'
import { saidEverywhere } from './said-everywhere.ts'

/** What the hub says of itself. */
export interface HubFacts extends Pick<HubLook, 'troubles' | 'disk'> {
  /** Since when it has listened to probes without a break, epoch ms; null: it does not. */
  readonly listeningSince: number | null
}

export interface RestDeps {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  /** Left out: nothing is known of the hub, so nothing is said of it, nor of silent probes. */
  readonly hub?: () => Promise<HubFacts>
}

const UNKNOWN: HubFacts = { troubles: [], disk: null, listeningSince: null }

/**
 * Everything alarms are about besides beds: the shelf, the hub itself, each probe. Resolves to what changed, stored
 * already. In this order: what is wrong with the hub keeps probes from being called silent.
 */
export async function watchRest(
  deps: RestDeps,
  supplies: ReadonlyMap<string, Omit<ProbeLook['supply'], 'told'>>,
  at: number,
): Promise<readonly Alarm[]> {
  const { garden } = deps
  const saved: Alarm[] = []
  const unshelved = dueUnshelved(await garden.openAlarms(), at)
  if (unshelved.length > 0) saved.push(...(await garden.saveAlarms(unshelved)))

  const facts = deps.hub === undefined ? UNKNOWN : await deps.hub()
  const looks = await probeLooks(deps, supplies, facts.listeningSince, at)
  const placed = looks.filter(({ bedId }) => bedId !== null)
  const silent = placed.filter(isSilent)
  const heardAt = Math.max(...silent.map(({ lastAt }) => lastAt ?? -Infinity))
  const heard = {
    placed: placed.length,
    silent: silent.length,
    heardAt: Number.isFinite(heardAt) ? heardAt : null,
  }
  const here = manner()
  const hub = await saidEverywhere(await garden.openAlarms(), async (open) => {
    // Troubles are told by parts of the hub, each in the manner in which it is asked.
    const { troubles } = manner() === here || deps.hub === undefined ? facts : await deps.hub()
    return advanceHub(open, { at, bedId: null, ...facts, troubles, probes: heard })
  })
  if (hub.length > 0) saved.push(...(await garden.saveAlarms(hub)))

  const probes = await saidEverywhere(await garden.openAlarms(), (open) =>
    looks.flatMap((look) => advanceProbe(open, look)),
  )
  if (probes.length > 0) saved.push(...(await garden.saveAlarms(probes)))
  return saved
}
