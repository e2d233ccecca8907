import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { startHub } from '../../support/hub-process.ts'
import { runCommand } from '../../support/run-command.ts'
import { tempDir } from '../../support/temp-dir.ts'

const LOGGER = 'Zeit;Elektrode;Wärme\n01.05.2026 10:00;-0,0125;68\n01.05.2026 10:10;-0,0126;\n'
const SAID = ['--probe', 'fern1', '--map', 'Elektrode=phmv:V', '--map', 'Wärme=st:°F']
const LINES =
  'reading,probe=fern1 phmv=-12.5,st=20 1777626000000000000\nreading,probe=fern1 phmv=-12.6 1777626600000000000\n'

test('in, out, backup and back, without a hub', async () => {
  using dir = tempDir()
  const file = join(dir.path, 'logger.csv')
  writeFileSync(file, LOGGER)
  const env = { LOAMLINE_DATA_DIR: join(dir.path, 'data') }

  const unclear = await runCommand(env, 'import', file, '--map', 'Elektrode=phmv')
  expect(unclear).toMatchObject({
    code: 2,
    err: expect.stringContaining('--probe or --probe-column'),
  })
  const dry = await runCommand(env, 'import', file, '--dry-run', ...SAID)
  expect(dry.out).toContain('2 readings, 0 of them stored already. Nothing was stored.')
  expect((await runCommand(env, 'export', '--format', 'lines')).out).toBe('')

  expect((await runCommand(env, 'import', file, ...SAID)).out).toContain('2 stored now.')
  expect((await runCommand(env, 'import', file, ...SAID)).out).toContain('0 stored now.')
  expect((await runCommand(env, 'export', '--format', 'lines')).out).toBe(LINES)

  writeFileSync(file, LOGGER.replace('-0,0126', 'wet'))
  const bad = await runCommand(env, 'import', file, ...SAID)
  expect(bad.code).toBe(2)
  expect(bad.err).toContain(
    "line 3, Elektrode: expected a number with ',' before its fraction, got 'wet'",
  )

  const backup = join(dir.path, 'copy')
  expect(await runCommand(env, 'backup', '--to', backup)).toMatchObject({ code: 0 })
  const other = { LOAMLINE_DATA_DIR: join(dir.path, 'other') }
  expect(await runCommand(other, 'restore', '--from', backup)).toMatchObject({ code: 0 })
  expect((await runCommand(other, 'export', '--format', 'lines')).out).toBe(LINES)
  expect(await runCommand(other, 'restore', '--from', backup)).toMatchObject({
    code: 2,
    err: expect.stringContaining('--replace'),
  })
}, 60_000)

test('the same through a hub that runs; its backup as one file can be put back', async () => {
  using dir = tempDir()
  const file = join(dir.path, 'logger.csv')
  writeFileSync(file, LOGGER)
  const data = join(dir.path, 'data')
  const hub = await startHub('start', data)
  const env = { LOAMLINE_DATA_DIR: data, LOAMLINE_HTTP_PORT: new URL(hub.url).port }
  const tar = join(dir.path, 'copy.tar')
  try {
    expect((await runCommand(env, 'import', file, ...SAID)).out).toContain('2 stored now.')
    expect((await runCommand(env, 'import', file, ...SAID)).out).toContain('0 stored now.')
    // The same readings as SenML: nothing is new; a bad record is told by its number, without its escapes.
    const senml = join(dir.path, 'logger.json')
    const begun = 1_777_626_000
    writeFileSync(
      senml,
      JSON.stringify([{ bn: 'fern1/', bt: begun, n: 'phmv', v: -12.5, u: 'mV' }]),
    )
    expect((await runCommand(env, 'import', senml)).out).toMatch(
      /1 readings, 1 of them stored already/,
    )
    writeFileSync(senml, JSON.stringify([{ n: 'fern1/\u001b[2Jphmv', t: begun, v: 1 }]))
    expect(await runCommand(env, 'import', senml, '--probe', 'fern1')).toMatchObject({
      code: 2,
      err: expect.stringMatching(/record 1, n: expected a name .*\\u001b\[2J/),
    })
    const out = join(dir.path, 'out.lp')
    expect(await runCommand(env, 'export', '--format', 'lines', '--out', out)).toMatchObject({
      code: 0,
    })
    expect(readFileSync(out, 'utf8')).toBe(LINES)
    expect(await runCommand(env, 'export', '--out', out)).toMatchObject({
      code: 2,
      err: expect.stringContaining('is there already'),
    })
    expect((await runCommand(env, 'export', 'probes')).out).toContain('fern1,fern1,')
    expect(await runCommand(env, 'export', '--probe', 'oak1')).toMatchObject({
      code: 2,
      err: expect.stringContaining("expected one of fern1, got 'oak1'"),
    })
    expect(await runCommand(env, 'backup', '--to', join(dir.path, 'live'))).toMatchObject({
      code: 0,
    })
    writeFileSync(tar, Buffer.from(await (await fetch(`${hub.url}/api/backup.tar`)).arrayBuffer()))
    expect(await runCommand(env, 'restore', '--from', tar, '--replace')).toMatchObject({
      code: 2,
      err: expect.stringContaining('HUB_STORE_LOCKED'),
    })
  } finally {
    await hub.end()
  }
  expect(await runCommand(env, 'restore', '--from', tar, '--replace')).toMatchObject({ code: 0 })
  expect((await runCommand(env, 'export', '--format', 'lines')).out).toBe(LINES)
  writeFileSync(tar, 'no archive')
  expect(await runCommand(env, 'restore', '--from', tar, '--replace')).toMatchObject({ code: 2 })
}, 90_000)
