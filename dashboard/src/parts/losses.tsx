import type { ProbeAccount } from '../../../hub/api/schemas/probe-account.ts'
import { dateTime, whole } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { said, say, toSay } from '../say.ts'

/** The boot id under which plain numbers are filed. */
const PLAIN_BOOT = 4_294_967_295

const COLUMNS = [
  ['received', toSay('Received')],
  ['late', toSay('Late')],
  ['duplicates', toSay('Repeated')],
  ['missing', toSay('Missing now')],
  ['writtenOff', toSay('Written off')],
  ['conflicting', toSay('Conflicting')],
] as const

const PLACED = [
  ['arrival', toSay('at their arrival')],
  ['device', toSay('by the probe’s own clock, which agreed with the hub’s')],
  ['anchors', toSay('by the probe’s uptime, between moments known on both clocks')],
  ['file', toSay('at the time that stood in a file')],
  ['bounded', toSay('only bounded: not in the trends')],
] as const

const PLACED_WORDS = Object.fromEntries(PLACED) as Readonly<
  Record<(typeof PLACED)[number][0], string>
>

/** What a probe's count says of its readings: what came, what is absent, and how it was placed in time. */
export function Losses({ account }: { account: ProbeAccount }) {
  const { garden } = useHub()
  const { total, boots, sentences } = account
  const figures = (of: ProbeAccount['total']) =>
    COLUMNS.map(([name, words]) => (
      <td key={name} class="n" data-label={said(words)}>
        {whole(of[name], garden.units)}
      </td>
    ))
  return (
    <section class="sheet" aria-labelledby="losses">
      <h2 id="losses">{say`What it lost`}</h2>
      {sentences.map((sentence) => (
        <p key={sentence} class="sentence">
          {sentence}
        </p>
      ))}
      {boots.length > 0 && (
        <>
          <table class="stack pairs">
            <thead>
              <tr>
                <th scope="col">{say`Boot`}</th>
                {COLUMNS.map(([name, words]) => (
                  <th key={name} scope="col" class="n">
                    {said(words)}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              <tr>
                <td>{say`All boots`}</td>
                {figures(total)}
              </tr>
              {boots.slice(0, 3).map((boot) => (
                <BootRow key={boot.boot} boot={boot} figures={figures(boot)} />
              ))}
            </tbody>
          </table>
          {boots.length > 3 && (
            <details>
              <summary>{say`Earlier boots`}</summary>
              <table class="stack pairs">
                <tbody>
                  {boots.slice(3).map((boot) => (
                    <BootRow key={boot.boot} boot={boot} figures={figures(boot)} />
                  ))}
                </tbody>
              </table>
            </details>
          )}
          <h3 class="after-table">{say`How its readings were placed in time`}</h3>
          <dl class="facts">
            {PLACED.filter(([name]) => total.placed[name] > 0).map(([name, words]) => (
              <>
                <dt>{whole(total.placed[name], garden.units)}</dt>
                <dd>{said(words)}</dd>
              </>
            ))}
          </dl>
          <details>
            <summary>{say`The newest readings, one by one`}</summary>
            <table class="stack">
              <thead>
                <tr>
                  <th scope="col">{say`Boot and number`}</th>
                  <th scope="col">{say`Measured`}</th>
                  <th scope="col">{say`Came`}</th>
                  <th scope="col">{say`Placed`}</th>
                </tr>
              </thead>
              <tbody>
                {account.newest.map((one) => (
                  <tr key={`${one.boot} ${one.seq}`}>
                    <td class="id">
                      {one.boot > PLAIN_BOOT
                        ? say`file`
                        : one.boot === PLAIN_BOOT
                          ? say`plain`
                          : one.boot}
                      , {one.seq}
                    </td>
                    <td data-label={say`Measured`}>
                      {one.placedBy === 'bounded'
                        ? say`at the latest ${dateTime(one.at, garden)}`
                        : dateTime(one.at, garden)}
                    </td>
                    <td data-label={say`Came`}>{dateTime(one.arrivedAt, garden)}</td>
                    <td data-label={say`Placed`}>{said(PLACED_WORDS[one.placedBy])}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </details>
        </>
      )}
    </section>
  )
}

function BootRow(props: {
  boot: ProbeAccount['boots'][number]
  figures: readonly preact.JSX.Element[]
}) {
  const { garden } = useHub()
  const { boot, firstAt, lastAt } = props.boot
  return (
    <tr>
      <td>
        {boot > PLAIN_BOOT ? (
          say`from files`
        ) : boot === PLAIN_BOOT ? (
          say`plain numbers`
        ) : (
          <span class="id">{boot}</span>
        )}
        <br />
        <span class="faint">
          {say`${dateTime(firstAt, garden)} to ${dateTime(lastAt, garden)}`}
        </span>
      </td>
      {props.figures}
    </tr>
  )
}
