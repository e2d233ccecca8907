import { chmodSync, copyFileSync, symlinkSync, unlinkSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { certificateFacts } from '#hub/certificates/certificate-facts.ts'
import { watchCertificate, type WatchedCertificate } from '#hub/certificates/watch-certificate.ts'
import { DAY } from '#hub/model/clock.ts'
import { makeAsReadme, type TestAuthority } from '#tests/support/certificates.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

let dir: ReturnType<typeof tempDir>
let authority: TestAuthority
beforeAll(() => {
  dir = tempDir()
  authority = makeAsReadme(dir.path)
})
afterAll(() => dir[Symbol.dispose]())

interface Watching extends Disposable {
  readonly certificate: WatchedCertificate
  readonly said: string[]
  setTime(at: number): void
}
function watch(pair: { readonly cert: string; readonly key: string }): Watching {
  const said: string[] = []
  let now = Date.now()
  const certificate = watchCertificate({
    files: {
      certificate: { file: pair.cert, setting: 'CERTIFICATE' },
      key: { file: pair.key, setting: 'KEY' },
    },
    clock: () => now,
    log: { warn: (m) => said.push(m), info: (m) => said.push(m) },
    // Only when it is asked to.
    lookEveryMs: DAY,
  })
  return {
    certificate,
    said,
    setTime: (at) => (now = at),
    [Symbol.dispose]: () => certificate.stop(),
  }
}

test('a link that is swapped is taken over, as programs that renew certificates do it', async () => {
  const [a, b] = [await authority.issue('linka'), await authority.issue('linkb')]
  const live = { cert: join(dir.path, 'live.pem'), key: join(dir.path, 'live.key') }
  const point = (to: typeof a): void => {
    for (const [link, file] of [
      [live.cert, to.cert],
      [live.key, to.key],
    ] as const) {
      try {
        unlinkSync(link)
      } catch {
        // The first time there is none.
      }
      symlinkSync(file, link)
    }
  }
  point(a)
  using watching = watch(live)
  const { certificate } = watching
  const renewed: string[] = []
  const off = certificate.onRenewed(({ cert }) => renewed.push(cert))
  certificate.look()
  expect(renewed).toEqual([])
  point(b)
  certificate.look()
  expect(renewed).toEqual([certificate.now().cert])
  expect(certificate.facts()).toEqual(certificateFacts(certificate.now().cert))
  off()
  point(a)
  certificate.look()
  expect(renewed).toHaveLength(1)
})

test('half a pair is passed over in silence once, told when it lasts, told once', async () => {
  const [a, b] = [await authority.issue('halfa'), await authority.issue('halfb')]
  const file = { cert: join(dir.path, 'half.pem'), key: join(dir.path, 'half.key') }
  copyFileSync(a.cert, file.cert)
  copyFileSync(a.key, file.key)
  using watching = watch(file)
  const { certificate, said } = watching
  copyFileSync(b.cert, file.cert)
  certificate.look()
  expect(said).toEqual([])
  for (let i = 0; i < 5; i++) certificate.look()
  expect(said).toEqual([expect.stringMatching(/KEY: expected the key of .*; going on with/)])
  copyFileSync(b.key, file.key)
  certificate.look()
  expect(said.at(-1)).toMatch(/was renewed, it is good until \d{4}-/)
})

test('what should have been renewed is told once a day, and when it is over', async () => {
  const pair = await authority.issue('old', { days: 60 })
  using watching = watch(pair)
  const { certificate, said } = watching
  const { from, to, dueAt } = certificate.facts()
  // RFC 5280, 4.1.2.5: whole seconds; what -days says is days of 24 hours.
  expect(to - from).toBe(60 * DAY)
  expect(to - dueAt).toBe(12 * DAY)
  watching.setTime(dueAt - 1)
  certificate.look()
  expect(said).toEqual([])
  for (const at of [dueAt, dueAt + DAY / 2, dueAt + DAY, to + 1]) {
    watching.setTime(at)
    certificate.look()
  }
  expect(said).toEqual([
    expect.stringContaining('has not been renewed'),
    expect.stringContaining('has not been renewed'),
    expect.stringContaining('ended on'),
  ])
})

test('a key that everybody can read is told', async () => {
  const pair = await authority.issue('wide')
  chmodSync(pair.key, 0o644)
  using watching = watch(pair)
  expect(watching.said).toEqual([expect.stringContaining(`everybody on this machine can read`)])
})
