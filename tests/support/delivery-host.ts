import { startDelivery, type Delivery } from '#hub/delivery/start-delivery.ts'
import type { Sender } from '#hub/delivery/senders/sender.ts'
import type { Alarm, AlarmChangeKind } from '#hub/model/alarm.ts'
import type { Manner } from '#hub/model/manner.ts'
import type { RouteWay } from '#hub/model/route.ts'
import { PLAIN } from '#hub/words/say.ts'
import { openStores } from '#hub/store/open.ts'
import type { GardenStore } from '#hub/store/garden-store.ts'
import { anAlarm } from './alarm-fixture.ts'
import { seededRandom } from './random.ts'

export interface DeliveryHost extends AsyncDisposable {
  readonly garden: GardenStore
  readonly delivery: Delivery
  readonly warnings: string[]
  readonly now: () => number
  /** Sets the clock ahead by ms and waits until everything that is due then is done. */
  pass(ms: number): Promise<void>
  /** Stores an alarm with what happened to it, now, and waits until everything that follows is done. */
  note(alarm: Alarm, what: AlarmChangeKind): Promise<Alarm>
  raise(change?: Partial<Alarm>): Promise<Alarm>
  /** Ends and starts the delivery, as a hub that is started again. */
  restart(): Promise<void>
}

const nobody: Sender = async () => {
  throw new Error('this test sends nothing by that way')
}

/** Delivery on real stores in a folder of its own; time stands until it is set. */
export async function deliveryHost(
  folder: string,
  senders: Partial<Record<RouteWay, Sender>>,
  options: {
    readonly now: number
    /** How messages are told; may change while the host runs. @default English and metric */
    readonly manner?: () => Manner
  },
): Promise<DeliveryHost> {
  const stores = await openStores(folder, { zone: 'Europe/Lisbon' })
  const { garden } = stores
  const random = seededRandom(7)
  const warnings: string[] = []
  let now = options.now
  let ids = 0
  const begin = (): Delivery =>
    startDelivery({
      garden,
      clock: () => now,
      random,
      newId: () => `00000000-0000-4000-8000-${String(ids++).padStart(12, '0')}`,
      manner: options.manner ?? (() => PLAIN),
      senders: { 'e-mail': nobody, webhook: nobody, push: nobody, mqtt: nobody, ...senders },
      onChange: () => undefined,
      onWarn: (message) => warnings.push(message),
      onFatal: (error) => {
        throw error
      },
    })
  let delivery = begin()
  async function settle(): Promise<void> {
    delivery.touch()
    await delivery.settled()
  }
  async function note(alarm: Alarm, what: AlarmChangeKind): Promise<Alarm> {
    const [stored] = await garden.saveAlarms([{ alarm, at: now, what, by: null, note: '' }])
    await settle()
    return stored!
  }
  return {
    garden,
    get delivery() {
      return delivery
    },
    warnings,
    now: () => now,
    async pass(ms) {
      now += ms
      await settle()
    },
    note,
    raise: (change = {}) =>
      note(anAlarm({ id: 0, bedId: null, raisedAt: now, ...change }), 'raised'),
    async restart() {
      await delivery.stop()
      delivery = begin()
      await settle()
    },
    async [Symbol.asyncDispose]() {
      await delivery.stop()
      await stores.close()
    },
  }
}
