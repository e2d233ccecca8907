import { api } from '../../api.ts'
import { useLoad } from '../../hub-context.tsx'
import { said, say, toSay } from '../../say.ts'

/** Topics of the broker, as firmware-spec has them. */
const TOPICS = [
  ['lm1/{probe}/up/r', toSay('readings of a probe, numbered; kept until they are acknowledged')],
  ['lm1/{probe}/up/v/{channel}', toSay('a plain number, for the simplest probe')],
  ['lm1/{probe}/up/state', toSay('whether a probe is there; retained')],
  ['lm1/{probe}/up/birth', toSay('what a probe is and which channels it has; retained')],
  ['lm1/{probe}/dn/ack', toSay('how far its readings are stored')],
  ['lm1/{probe}/dn/cfg', toSay('settings for a probe; retained')],
  ['lm1/{probe}/dn/cmd', toSay('commands for a probe')],
  ['lm1/hub/state', toSay('whether the hub is there; retained')],
  ['lm1/hub/alerts/{bed}/{rule}', toSay('an alarm that is open; retained, empty when it is over')],
  ['lm1/hub/messages/{route}', toSay('what a route by MQTT has to tell')],
] as const

/** What can be fetched or subscribed to by its address alone. */
const FILES = [
  ['/api/calendar.ics', toSay('what is planned, as a calendar (RFC 5545)')],
  ['/api/alarms.atom', toSay('alarms, as an Atom feed (RFC 4287)')],
  ['/api/export/readings.csv', toSay('readings as a table (RFC 4180)')],
  ['/api/export/readings.lp', toSay('readings in line protocol')],
  ['/api/export/records/journal', toSay('the journal as a table; other records likewise')],
  ['/api/live', toSay('what changes, as server-sent events')],
] as const

const STANDARDS = [
  ['/api/openapi.json', toSay('everything below, described by OpenAPI 3.1')],
  ['/sta/v1.1', toSay('readings by OGC SensorThings API 1.1, to read')],
  ['/metrics', toSay('how the hub is and what beds and probes read, in OpenMetrics')],
] as const

function Addresses({ rows }: { rows: readonly (readonly [string, string])[] }) {
  return (
    <dl class="facts addresses">
      {rows.map(([address, words]) => (
        <div key={address} class="asking-row">
          <dt>
            <a href={address} translate={false}>
              {address}
            </a>
          </dt>
          <dd>{said(words)}</dd>
        </div>
      ))}
    </dl>
  )
}

/** The interfaces that are not asked one by one: the broker, feeds, files, open standards. */
export function Besides() {
  const observed = useLoad('observed', api.observed)
  return (
    <>
      <section class="sheet" aria-labelledby="standards">
        <h2 id="standards">{say`Open standards`}</h2>
        <Addresses rows={STANDARDS} />
        {observed.data !== null && observed.data.length > 0 && (
          <>
            <h3>{say`What is observed here`}</h3>
            <dl class="facts">
              {observed.data.map(({ '@iot.id': id, description }) => (
                <div key={id} class="asking-row" id={id}>
                  <dt>
                    <span class="id" translate={false}>
                      {id}
                    </span>
                  </dt>
                  <dd lang="en">{description}</dd>
                </div>
              ))}
            </dl>
          </>
        )}
      </section>
      <section class="sheet" aria-labelledby="topics">
        <h2 id="topics">{say`Topics of the broker`}</h2>
        <p class="sentence">{say`MQTT 3.1.1. The firmware specification says what stands in each message.`}</p>
        <dl class="facts addresses">
          {TOPICS.map(([topic, words]) => (
            <div key={topic} class="asking-row">
              <dt>
                <span class="id" translate={false}>
                  {topic}
                </span>
              </dt>
              <dd>{said(words)}</dd>
            </div>
          ))}
        </dl>
      </section>
      <section class="sheet" aria-labelledby="files">
        <h2 id="files">{say`Feeds and files`}</h2>
        <Addresses rows={FILES} />
      </section>
    </>
  )
}
