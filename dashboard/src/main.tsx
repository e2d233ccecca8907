import { render } from 'preact'
import { Root } from './root.tsx'
import { speak, spokenLast } from './say.ts'
import './style.css'

const place = document.getElementById('app')
if (place === null) throw new Error('index.html has no #app')

// What cannot be fetched now is fetched again once the garden is known; until then the page is in English.
const first = spokenLast()
if (first !== null && first !== 'en') await speak(first).catch(() => undefined)

place.replaceChildren()
render(<Root />, place)

// The page itself comes first: the worker fetches all the others.
const START_WORKER_MS = 3000
setTimeout(() => {
  void import('./worker-at-work.ts').then(({ startWorker }) => startWorker())
}, START_WORKER_MS)
