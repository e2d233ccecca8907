import type { Channel } from '../model/probe.ts'
import type { Sensed } from '../model/quantity.ts'
import type { ChannelBody } from './schemas.ts'

const WELL_KNOWN: readonly (readonly [RegExp, Sensed, string])[] = [
  [/^phmv$/, 'ph.emf', 'mV'],
  [/^ph$/, 'ph', 'pH'],
  [/^m[1-9]?$/, 'moist.raw', 'count'],
  [/^vwc$/, 'vwc', '/'],
  [/^eps$/, 'permittivity', '/'],
  [/^st[1-9]?$/, 'temp.soil', 'Cel'],
  [/^at$/, 'temp.air', 'Cel'],
  [/^rh$/, 'rh.air', '%RH'],
  [/^bat$/, 'bat', 'V'],
  [/^rssi$/, 'rssi', 'dBm'],
]

/** What a channel most likely is, by its well-known name, until the probe describes it. */
export function guessChannel(name: string): Omit<Channel, 'probe'> {
  const known = WELL_KNOWN.find(([pattern]) => pattern.test(name))
  return {
    name,
    senses: known?.[1] ?? 'other',
    unit: known?.[2] ?? '',
    low: null,
    high: null,
    resolution: null,
    depthM: null,
    from: null,
    described: false,
  }
}

/** A channel as its probe describes it. */
export function describedChannel(name: string, body: ChannelBody): Omit<Channel, 'probe'> {
  return {
    name,
    senses: body.q,
    unit: body.u,
    low: body.lo ?? null,
    high: body.hi ?? null,
    resolution: body.lsb ?? null,
    depthM: body.d ?? null,
    from: body.from ?? null,
    described: true,
  }
}
