import { render } from 'preact'
import { App } from './app.tsx'
import { HubProvider } from './hub-context.tsx'
import { speak, spokenLast } from './say.ts'
import './style.css'

const place = document.getElementById('app')
if (place === null) throw new Error('index.html has no #app')

// What cannot be fetched now is fetched again once the garden is known; until then the page is in English.
const first = spokenLast()
if (first !== null && first !== 'en') await speak(first).catch(() => undefined)

place.replaceChildren()
render(
  <HubProvider>
    <App />
  </HubProvider>,
  place,
)
