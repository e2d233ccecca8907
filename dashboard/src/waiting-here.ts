import { openWaiting, sendFrom } from './open-waiting.ts'
import { openedBy } from './use-waiting.ts'
import type { WaitingQueue } from './waiting.ts'

/** For pages on which something is written down: the code comes with them, since it is needed without a connection. */
export const waitingQueue = (): Promise<WaitingQueue> => openedBy(openWaiting)

/** Sends what waits. */
export const sendWaiting = async (): Promise<void> => sendFrom(await waitingQueue())
