import { render } from 'preact'
import { App } from './app.tsx'
import { HubProvider } from './hub-context.tsx'
import './style.css'

const place = document.getElementById('app')
if (place === null) throw new Error('index.html has no #app')
place.replaceChildren()
render(
  <HubProvider>
    <App />
  </HubProvider>,
  place,
)
