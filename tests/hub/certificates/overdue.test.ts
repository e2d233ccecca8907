import { pino } from 'pino'
import { expect, test } from 'vitest'
import { hubTrouble } from '#hub/alerts/rules/hub-trouble.ts'
import { loadConfig } from '#hub/config/load.ts'
import { DAY } from '#hub/model/clock.ts'
import { wireTls } from '#hub/assembly/wire-tls.ts'
import { makeAsReadme } from '#tests/support/certificates.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

test('a certificate whose renewal is overdue raises an alarm, before it ends and after', async () => {
  using dir = tempDir()
  const pair = await makeAsReadme(dir.path).issue('hub', { days: 100 })
  let now = Date.now()
  const { config } = loadConfig({
    LOAMLINE_HTTP_CERTIFICATE: pair.cert,
    LOAMLINE_HTTP_KEY: pair.key,
  })
  const tls = wireTls(config, { clock: () => now, log: pino({ level: 'silent' }) })
  try {
    const { to } = tls.http!.facts()
    const raised = (at: number) => {
      now = at
      return hubTrouble.arises({
        at,
        bedId: null,
        troubles: tls.troubles(),
        disk: null,
        probes: { placed: 0, silent: 0, heardAt: null },
      })
    }
    expect(raised(to - 15 * DAY)).toEqual([])
    expect(raised(to - 14 * DAY)).toMatchObject([
      { subject: 'certificate', sentence: expect.stringContaining('has not been renewed') },
    ])
    expect(raised(to)).toMatchObject([
      { subject: 'certificate', sentence: expect.stringContaining('probes that check it') },
    ])
  } finally {
    tls.stop()
  }
})
