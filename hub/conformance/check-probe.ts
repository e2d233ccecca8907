import type { Clock } from '../model/clock.ts'
import { createAttendant } from './attendant.ts'
import { intervalOf } from './interval.ts'
import { judge } from './judge/judge.ts'
import type { Plan } from './plan.ts'
import { openProxy, type Proxy } from './proxy.ts'
import type { Happening } from './record.ts'
import { reportOf, type Report } from './report.ts'
import { SPECIFIED, type Terms } from './terms.ts'
import { tryAcknowledgements, tryDownlinks, tryHole, tryOutage, type Scene } from './trials.ts'

export interface CheckOptions {
  readonly probe: string
  readonly listen: { readonly host: string; readonly port: number }
  readonly broker: { readonly host: string; readonly port: number }
  readonly clock: Clock
  readonly plan: Plan
  /** @default SPECIFIED: what the specification says */
  readonly terms?: Terms
  /** Told what is being tried. */
  readonly onStep?: (text: string) => void
  /** Told of trouble on the broker's side. */
  readonly onTrouble?: (trouble: Error) => void
}

export interface Check {
  /** The port it listens on. */
  readonly port: number
  /** When everything has been tried. */
  readonly done: Promise<Report>
  /** Ends early: what was not tried yet is not tested. */
  stop(): void
}

/** So often waits look at the clock, ms. */
const LOOK_MS = 50

/**
 * Stands between a probe and its broker, watches, tries what a probe has to withstand, and judges.
 *
 * @throws HubError HUB_PORT_IN_USE
 */
export async function checkProbe(options: CheckOptions): Promise<Check> {
  const { probe, clock, plan } = options
  const terms = options.terms ?? SPECIFIED
  const say = options.onStep ?? (() => {})
  const startedAt = clock()
  const happenings: Happening[] = []
  const waiting = new Set<() => void>()
  let stopped = false
  const attendant = createAttendant({
    probe,
    proxy: () => proxy,
    hubWaitMs: plan.hubWaitMs,
    everyMs: terms.resendMs,
  })
  const proxy: Proxy = await openProxy({
    listen: options.listen,
    broker: options.broker,
    clock,
    onHappening: (one) => {
      happenings.push(one)
      attendant.hear(one)
      for (const look of [...waiting]) look()
    },
    onTrouble: options.onTrouble ?? (() => {}),
  })
  const until = (seen: () => boolean, ms: number): Promise<boolean> =>
    new Promise((resolve) => {
      const end = clock() + ms
      let looking = false
      const look = (): void => {
        // Looking may make things happen, which calls to look again.
        if (looking) return
        looking = true
        const done = seen()
        looking = false
        if (!done && !stopped && clock() < end) return
        clearInterval(timer)
        waiting.delete(look)
        resolve(done)
      }
      const timer = setInterval(look, LOOK_MS)
      waiting.add(look)
      look()
    })

  const scene: Scene = {
    probe,
    plan,
    terms,
    proxy,
    attendant,
    until,
    pause: async (ms) => void (await until(() => false, ms)),
    say,
    stopped: () => stopped,
  }

  async function run(): Promise<Report> {
    const { progress } = attendant
    say(`waiting for ${probe} to connect`)
    if (await until(() => progress.ons > 0 || progress.live > 0, plan.patienceMs)) {
      say(`watching ${plan.readings} readings`)
      await scene.until(() => progress.live >= 2, plan.patienceMs)
      let alive = await tryDownlinks(scene)
      if (alive) {
        await scene.until(() => progress.live >= plan.readings, readingTime(scene, plan.readings))
        await tryAcknowledgements(scene)
        await tryOutage(scene)
        if (plan.blackHole) await tryHole(scene)
      }
      while (alive && !stopped && clock() - startedAt < plan.soakMs) {
        alive = await tryDownlinks(scene)
        if (!alive) break
        await tryAcknowledgements(scene)
        await tryOutage(scene)
        await tryHole(scene)
      }
      if (!alive && !stopped) say('it fell silent')
    }
    const findings = judge(probe, happenings, terms)
    attendant.stop()
    await proxy.close()
    return reportOf({ probe, startedAt, endedAt: clock(), findings, happenings })
  }

  return {
    port: proxy.port,
    done: run(),
    stop() {
      stopped = true
      for (const look of [...waiting]) look()
    },
  }
}

/** Longest wait for so many readings, ms. */
function readingTime(scene: Scene, readings: number): number {
  return readings * 2 * intervalOf(scene.attendant.progress) + 2 * scene.terms.answerMs
}
