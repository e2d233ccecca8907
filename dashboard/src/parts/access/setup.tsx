import type { ProbeSetup } from '../../../../hub/api/schemas/access.ts'
import { useHub } from '../../hub-context.tsx'
import { say, toSay } from '../../say.ts'
import { saying } from '../../saying.ts'
import { QrCode } from '../qr-code.tsx'
import './access.css'

/** A probe's new password in every form it is needed in; it is gone with the page. */
export function Setup({ setup, onDone }: { setup: ProbeSetup; onDone: () => void }) {
  const { health } = useHub()
  const { id, broker, header, line } = setup
  // With a port behind it, IPv6 stands in brackets.
  const host = broker.host.includes(':') ? `[${broker.host}]` : broker.host
  return (
    <section class="sheet setup" aria-labelledby="setup" data-setup={id}>
      <h2 id="setup">{saying(toSay('What goes into {0}'), <span class="id">{id}</span>)}</h2>
      <p class="sentence">
        <strong>{say`This is shown once.`}</strong>{' '}
        {say`The hub keeps only a hash of the password: when you have lost it, make a new one. Keep it out of source code that others see.`}
      </p>
      <dl class="facts">
        <dt>{say`Id, user name, client id`}</dt>
        <dd class="id">{id}</dd>
        <dt>{say`Password`}</dt>
        <dd class="id secret">{setup.password}</dd>
        <dt>{say`Broker`}</dt>
        <dd class="id">
          {broker.encrypted ? say`${host}:${broker.port}, encrypted` : `${host}:${broker.port}`}
        </dd>
        {broker.encrypted && broker.plainPort !== null && (
          <>
            <dt>{say`For a board that cannot do TLS`}</dt>
            <dd class="id">{say`${host}:${broker.plainPort}, not encrypted`}</dd>
          </>
        )}
        {broker.keySha256 !== null && (
          <>
            <dt>{say`Key of the broker (SHA-256), to pin`}</dt>
            <dd class="id">{broker.keySha256}</dd>
          </>
        )}
      </dl>
      {broker.reach === 'this machine' && (
        <p class="sentence caution">
          {health?.broker.kind === 'external'
            ? say`At this address nothing but this machine reaches the broker. When your network can reach it (in containers by BIND_ADDRESS=0.0.0.0), call this page by the name or address others have for this machine, or set LOAMLINE_PROBES_HOST; then make the password anew, or change the host in the file.`
            : say`At this address nothing but this machine reaches the broker. To let probes on your network in, start the hub with LOAMLINE_MQTT_HOST=0.0.0.0, then make the password anew or change the host in the file.`}
        </p>
      )}
      <h3>{say`As a C header file`}</h3>
      <pre class="command">
        <code>{header.text}</code>
      </pre>
      <p>
        <a
          class="button"
          download={header.name}
          href={`data:text/plain;charset=utf-8,${encodeURIComponent(header.text)}`}
        >{say`Save ${header.name}`}</a>
      </p>
      <h3>{say`As one line`}</h3>
      <p>{say`For firmware that takes its settings over a serial console, or as a QR code.`}</p>
      <pre class="command">
        <code>{line}</code>
      </pre>
      <QrCode text={line} label={say`QR code of the line for ${id}`} />
      <h3>{say`What to do next`}</h3>
      <ol>
        <li>{say`Put the file, or the line, into the firmware of this one board, and start it.`}</li>
        <li>{say`It must give the id as user name and as client id. As soon as it has spoken, its page says so; what it senses and its last reading stand there.`}</li>
        <li>{say`On its page, say in which spot it sits, and calibrate it.`}</li>
      </ol>
      <p class="buttons">
        <button type="button" class="main" onClick={onDone}>{say`I have it`}</button>
      </p>
    </section>
  )
}
