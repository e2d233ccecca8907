import { useEffect } from 'preact/hooks'
import type { Alarm } from '../../hub/api/schemas/alarm.ts'
import { firstApi } from './first-api.ts'
import { useHub, useLoad } from './hub-context.tsx'
import { AlarmStrips } from './parts/alarm-strip.tsx'
import { useJobs } from './parts/jobs/use-jobs.ts'
import { later } from './parts/later.tsx'
import { Link } from './parts/link.tsx'
import { StatusLines } from './parts/offline/status-lines.tsx'
import { routeTitle } from './router.ts'
import type { Route } from './router.ts'
import { language, said, say, toSay } from './say.ts'
import { useRoute } from './use-route.ts'
import { useWho } from './who.ts'
import { GardenView } from './views/garden.tsx'

const JobLine = later(async () => (await import('./parts/jobs/job-line.tsx')).JobLine, 'quiet')
const LanguageOffer = later(
  async () => (await import('./parts/language-offer.tsx')).LanguageOffer,
  'quiet',
)
const AccessLine = later(
  async () => (await import('./parts/people/access-line.tsx')).AccessLine,
  'quiet',
)
const BedView = later(async () => (await import('./views/bed.tsx')).BedView)
const PlanView = later(async () => (await import('./views/plan.tsx')).PlanView)
const MeasureView = later(async () => (await import('./views/measure.tsx')).MeasureView)
const CalibrateView = later(async () => (await import('./views/calibrate.tsx')).CalibrateView)
const NewBedView = later(async () => (await import('./views/new-bed.tsx')).NewBedView)
const ProbesView = later(async () => (await import('./views/probes.tsx')).ProbesView)
const ProbeView = later(async () => (await import('./views/probe.tsx')).ProbeView)
const TrialsView = later(async () => (await import('./views/trials.tsx')).TrialsView)
const ReviewView = later(async () => (await import('./views/review.tsx')).ReviewView)
const ReportView = later(async () => (await import('./views/report.tsx')).ReportView)
const AlarmsView = later(async () => (await import('./views/alarms.tsx')).AlarmsView)
const JournalView = later(async () => (await import('./views/journal.tsx')).JournalView)
const DataView = later(async () => (await import('./views/data.tsx')).DataView)
const MessagesView = later(async () => (await import('./views/messages.tsx')).MessagesView)
const PeopleView = later(async () => (await import('./views/people.tsx')).PeopleView)
const InterfacesView = later(async () => (await import('./views/interfaces.tsx')).InterfacesView)
const SettingsView = later(async () => (await import('./views/settings.tsx')).SettingsView)

/** Pages on which something is changed and nothing else is done. */
const FOR_CHANGE: readonly Route['page'][] = ['measure', 'calibrate', 'new-bed', 'messages']

function Page({ route }: { route: Route }) {
  const who = useWho()
  if (who?.state === 'in' && !who.scopes.includes('change') && FOR_CHANGE.includes(route.page)) {
    return (
      <>
        <h1>{routeTitle(route, undefined)}</h1>
        <p class="sentence">
          {say`${who.name ?? ''} may look at everything here, but not do this.`}{' '}
          <Link to={{ page: 'garden' }}>{say`Back to the garden`}</Link>
        </p>
      </>
    )
  }
  switch (route.page) {
    case 'garden':
      return <GardenView />
    case 'bed':
      return <BedView key={route.id} id={route.id} />
    case 'plan':
      return <PlanView key={route.id} id={route.id} />
    case 'measure':
      return <MeasureView key={route.id} id={route.id} />
    case 'calibrate':
      return <CalibrateView key={route.id} id={route.id} />
    case 'new-bed':
      return <NewBedView />
    case 'probes':
      return <ProbesView />
    case 'probe':
      return <ProbeView key={route.id} id={route.id} />
    case 'trials':
      return <TrialsView {...route} />
    case 'review':
      return <ReviewView />
    case 'report':
      return (
        <ReportView key={route.bed ?? 'garden'} bed={route.bed} from={route.from} to={route.to} />
      )
    case 'journal':
      return <JournalView {...route} />
    case 'alarms':
      return <AlarmsView />
    case 'settings':
      return <SettingsView />
    case 'data':
      return <DataView />
    case 'interfaces':
      return <InterfacesView />
    case 'people':
      return <PeopleView />
    case 'messages':
      return <MessagesView />
    // These two are drawn without the pages around them.
    case 'sign-in':
    case 'shared':
      return null
    case 'nowhere':
      return (
        <>
          <h1>{say`Nothing here`}</h1>
          <p class="sentence">
            {say`There is no page at ${route.path}.`}{' '}
            <Link to={{ page: 'garden' }}>{say`Back to the garden`}</Link>
          </p>
        </>
      )
  }
}

const PAGES = [
  ['garden', toSay('Garden')],
  ['probes', toSay('Probes')],
  ['journal', toSay('Journal')],
  ['review', toSay('Review')],
  ['trials', toSay('Trials')],
  ['alarms', toSay('Alarms')],
  ['settings', toSay('Settings')],
] as const

/** Open alarms about no bed: the hub's own. */
function useHubAlarms(): readonly Alarm[] {
  const { loaded, alarmTick, connection } = useHub()
  const { data } = useLoad(
    loaded ? 'alarms of the hub' : null,
    (signal) => firstApi.alarms({ open: true, bed: 0 }, signal),
    `${alarmTick} ${connection}`,
  )
  return data ?? []
}

/** All pages; drawn anew when the language changes. */
export function App() {
  // Asked for so that a change of the garden is heard.
  useHub()
  return <Pages key={language()} />
}

function Pages() {
  const route = useRoute()
  const { beds, loaded, announcement } = useHub()
  const who = useWho()
  const about =
    route.page === 'bed' || route.page === 'plan' || route.page === 'measure'
      ? route.id
      : route.page === 'report'
        ? route.bed
        : undefined
  const bedName = beds.find((bed) => bed.id === about)?.name
  const title = routeTitle(route, bedName)
  useEffect(() => {
    document.title = `${title} · Loamline`
  }, [title])
  const ofHub = useHubAlarms()
  const running = useJobs().find(({ endedAt }) => endedAt === null)
  const waiting = beds
    .flatMap((bed) => bed.alarms)
    .concat(ofHub)
    .filter(
      ({ state, shelvedUntil }) =>
        shelvedUntil === null && (state === 'unacknowledged' || state === 'returned'),
    ).length
  const isHere = (page: string): boolean =>
    route.page === page ||
    (page === 'garden' && ['bed', 'plan', 'measure', 'new-bed'].includes(route.page)) ||
    (page === 'probes' && (route.page === 'probe' || route.page === 'calibrate')) ||
    (page === 'review' && route.page === 'report') ||
    (page === 'settings' && ['data', 'interfaces', 'people', 'messages'].includes(route.page))
  return (
    <>
      <a class="skip" href="#main">
        {say`Skip to the page`}
      </a>
      <header class="top">
        <Link to={{ page: 'garden' }} class="brand">
          Loamline
        </Link>
        <nav aria-label={say`Pages`}>
          {PAGES.map(([page, words]) => (
            <Link key={page} to={{ page }} current={isHere(page)}>
              {said(words)}
              {page === 'alarms' && waiting > 0 && (
                <span class="count" aria-label={say`${waiting} not acknowledged`}>
                  {waiting}
                </span>
              )}
            </Link>
          ))}
        </nav>
      </header>
      {who !== null && (who.name !== null || who.exposed || who.state !== 'open') && <AccessLine />}
      <StatusLines />
      {running !== undefined && <JobLine job={running} />}
      {loaded && beds.length === 0 && <LanguageOffer />}
      <p class="unseen" aria-live="polite" data-testid="announcement">
        {announcement}
      </p>
      <main id="main" tabIndex={-1}>
        {route.page === 'garden' && <AlarmStrips alarms={ofHub} brief />}
        <Page route={route} />
      </main>
    </>
  )
}
