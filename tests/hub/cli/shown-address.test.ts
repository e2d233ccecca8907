import { expect, onTestFinished, test, vi } from 'vitest'
import { shownAddress } from '#hub/cli/shown-address.ts'
import { announce } from '#hub/cli/start.ts'
import type { Hub } from '#hub/hub.ts'

test('an address that is every address is told as one that can be called', () => {
  expect(shownAddress('mqtt://0.0.0.0:1883')).toBe(
    'mqtt://127.0.0.1:1883, or any other address of this machine',
  )
  expect(shownAddress('mqtts://[::]:8883')).toMatch(/^mqtts:\/\/127\.0\.0\.1:8883, /)
  for (const address of ['mqtt://127.0.0.1:1883', 'mqtts://10.0.0.0:8883', 'mqtt://broker.local'])
    expect(shownAddress(address)).toBe(address)
})

test('both lines of the start tell where probes connect', () => {
  const lines: string[] = []
  const spy = vi.spyOn(console, 'log').mockImplementation((line: string) => void lines.push(line))
  onTestFinished(() => spy.mockRestore())
  const hub: Pick<Hub, 'url' | 'brokerAddress' | 'encryptedBrokerAddress'> = {
    url: 'http://127.0.0.1:8090',
    brokerAddress: 'mqtt://0.0.0.0:1883',
    encryptedBrokerAddress: 'mqtts://0.0.0.0:8883',
  }
  announce(hub)
  expect(lines.filter((line) => line.includes('mqtt'))).toEqual([
    '  Probes      mqtt://127.0.0.1:1883, or any other address of this machine',
    '              mqtts://127.0.0.1:8883, or any other address of this machine, encrypted',
  ])
  lines.length = 0
  announce({ ...hub, brokerAddress: 'mqtts://0.0.0.0:8883' })
  expect(lines.filter((line) => line.includes('mqtt'))).toHaveLength(1)
})
