import type { ProbeView as Probe } from '../../../hub/api/schemas/probe.ts'
import { age, amount, upTo } from '../format.ts'
import { SENSED_WORDS, unitWords } from '../sensed-words.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { said, say } from '../say.ts'

/** What the probe senses and sent last. */
export function Channels({ probe }: { probe: Probe }) {
  const { garden } = useHub()
  const now = useNow()
  return (
    <section class="sheet" aria-labelledby="channels">
      <h2 id="channels">{say`Channels`}</h2>
      {probe.channels.length === 0 ? (
        <p class="sentence">{say`Nothing measured yet.`}</p>
      ) : (
        <table class="stack pairs">
          <thead>
            <tr>
              <th scope="col">{say`Channel`}</th>
              <th scope="col">{say`Senses`}</th>
              <th scope="col">{say`Latest, as sent`}</th>
              <th scope="col">{say`When`}</th>
              <th scope="col">{say`Depth`}</th>
            </tr>
          </thead>
          <tbody>
            {probe.channels.map((channel) => (
              <tr key={channel.name}>
                <td class="id">{channel.name}</td>
                <td data-label={say`Senses`}>
                  {said(SENSED_WORDS[channel.senses])}
                  {!channel.described && <span class="faint"> {say`(guessed from the name)`}</span>}
                </td>
                <td data-label={say`Latest, as sent`}>
                  {channel.latest === null
                    ? channel.latestAt === null
                      ? say`nothing yet`
                      : say`sensor failed`
                    : `${upTo(channel.latest, 2, garden.units)} ${unitWords(channel.unit)}`}
                </td>
                <td data-label={say`When`}>
                  {channel.latestAt === null ? '–' : age(channel.latestAt, now)}
                </td>
                <td data-label={say`Depth`}>
                  {channel.depthM === null ? '–' : amount('depth', channel.depthM, garden.units)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </section>
  )
}
