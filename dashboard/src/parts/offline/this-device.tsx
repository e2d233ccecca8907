import { useEffect, useState } from 'preact/hooks'
import { say } from '../../say.ts'
import { waitingQueue } from '../../waiting-here.ts'
import { useWorkerNews } from './use-worker-news.ts'

/** What these pages can do on this device without a connection, for Settings. */
export function ThisDevice() {
  const { state } = useWorkerNews()
  const [lasting, setLasting] = useState(true)
  useEffect(() => {
    void waitingQueue().then((queue) => setLasting(queue.lasting))
  }, [])
  return (
    <section class="sheet" aria-labelledby="this-device">
      <h2 id="this-device">{say`This device`}</h2>
      <p>
        {state === 'at work'
          ? say`These pages open without a connection too, with what was last fetched and its age. The browser's menu can install them like a program.`
          : state === 'not secure'
            ? say`At this address the browser neither keeps these pages nor installs them: that takes HTTPS, or the hub's own machine. While a page stays open it works on without a connection, and what is written down waits in it.`
            : state === 'none'
              ? say`This browser does not keep the pages: while one stays open it works on without a connection.`
              : say`These pages are being made ready for times without a connection …`}
      </p>
      <p>
        {lasting
          ? say`Journal entries and hand measurements made without a connection wait on this device, also when it is switched off, and are sent when the hub is back.`
          : say`This browser keeps nothing: journal entries made without a connection are lost when the page is closed.`}
      </p>
    </section>
  )
}
