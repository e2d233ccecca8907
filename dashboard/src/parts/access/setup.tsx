import type { ProbeSetup } from '../../../../hub/api/schemas/access.ts'
import { QrCode } from '../qr-code.tsx'
import './access.css'

/** A probe's new password in every form it is needed in; it is gone with the page. */
export function Setup({ setup, onDone }: { setup: ProbeSetup; onDone: () => void }) {
  const { id, broker, header, line } = setup
  return (
    <section class="sheet setup" aria-labelledby="setup" data-setup={id}>
      <h2 id="setup">
        What goes into <span class="id">{id}</span>
      </h2>
      <p class="sentence">
        <strong>This is shown once.</strong> The hub keeps only a hash of the password: when you
        have lost it, make a new one. Keep it out of source code that others see.
      </p>
      <dl class="facts">
        <dt>Id, user name, client id</dt>
        <dd class="id">{id}</dd>
        <dt>Password</dt>
        <dd class="id secret">{setup.password}</dd>
        <dt>Broker</dt>
        <dd class="id">
          {broker.host}:{broker.port}
          {broker.encrypted && ', encrypted'}
        </dd>
      </dl>
      {broker.reach === 'this machine' && (
        <p class="sentence caution">
          At this address nothing but this machine reaches the broker. To let probes on your network
          in, start the hub with LOAMLINE_MQTT_HOST=0.0.0.0, then make the password anew or change
          the host in the file.
        </p>
      )}
      <h3>As a C header file</h3>
      <pre class="command">
        <code>{header.text}</code>
      </pre>
      <p>
        <a
          class="button"
          download={header.name}
          href={`data:text/plain;charset=utf-8,${encodeURIComponent(header.text)}`}
        >
          Save {header.name}
        </a>
      </p>
      <h3>As one line</h3>
      <p>For firmware that takes its settings over a serial console, or as a QR code.</p>
      <pre class="command">
        <code>{line}</code>
      </pre>
      <QrCode text={line} label={`QR code of the line for ${id}`} />
      <h3>What to do next</h3>
      <ol>
        <li>Put the file, or the line, into the firmware of this one board, and start it.</li>
        <li>
          It must give the id as user name and as client id. As soon as it has spoken, its page says
          so; what it senses and its last reading stand there.
        </li>
        <li>On its page, say in which spot it sits, and calibrate it.</li>
      </ol>
      <p class="buttons">
        <button type="button" class="main" onClick={onDone}>
          I have it
        </button>
      </p>
    </section>
  )
}
