import type { Sensed } from './quantity.ts'

/** What a probe said of one of its channels, or what its well-known name implies. */
export interface Channel {
  readonly probe: string
  /** `^[a-z][a-z0-9]{0,7}$` */
  readonly name: string
  readonly senses: Sensed
  /** Unit as on the wire (`mV`, `count`, `Cel`, `pH`, `/`, `V` ...). */
  readonly unit: string
  /** Electrical limits; a value at or beyond one is clipped. */
  readonly low: number | null
  readonly high: number | null
  /** Smallest step, same unit. */
  readonly resolution: number | null
  /** Depth in the soil, m. */
  readonly depthM: number | null
  /** Channel this one was derived from. */
  readonly from: string | null
  /** False when the hub only guessed from the name. */
  readonly described: boolean
}

export type ProbeState = 'on' | 'off' | 'sleep' | 'unknown'

/** What the hub knows of a probe that has ever spoken, adopted or not. */
export interface Probe {
  /** `^[a-z][a-z0-9]{2,22}$`, also its MQTT user name and client id. */
  readonly id: string
  /** The gardener's name for it; the id until given one. */
  readonly name: string
  /** Epoch ms; null while it is only a stranger whose readings are kept aside. */
  readonly adoptedAt: number | null
  readonly firstSeenAt: number
  readonly lastSeenAt: number
  readonly state: ProbeState
  readonly stateAt: number
  /** When a sleeping probe means to come back, epoch ms. */
  readonly expectedAt: number | null
  readonly firmware: string | null
  readonly hardware: string | null
  /** Measuring interval it announced, s. */
  readonly intervalS: number | null
}

/** A probe sits in a spot for a time; it can move. `from <= t < to`; `to` null = still there. Epoch ms. */
export interface Placement {
  readonly id: number
  readonly probe: string
  readonly spotId: number
  readonly from: number
  readonly to: number | null
}

/** Whether a placement holds at a time, epoch ms. */
export function holdsAt(placement: Placement, at: number): boolean {
  return placement.from <= at && (placement.to === null || at < placement.to)
}

/** A buffer solution and the EMF the electrode showed in it. */
export interface BufferPoint {
  /** pH of the buffer at the temperature of the calibration. */
  readonly ph: number
  readonly emfMv: number
}

/** Sets of buffers that belong together. */
export const BUFFER_SET_IDS = ['technical', 'iupac_2002', 'jis_z8802'] as const
export type BufferSetId = (typeof BUFFER_SET_IDS)[number]

/** Calibration of a pH electrode in two or three buffers, in force from `at` until the next one of the same channel. */
export interface ElectrodeCalibration {
  readonly kind: 'electrode'
  readonly id: number
  readonly probe: string
  readonly channel: string
  /** Epoch ms from which it holds. */
  readonly at: number
  /** Of three the line of least squares is taken. */
  readonly points: readonly [BufferPoint, BufferPoint, ...BufferPoint[]]
  /** Temperature of the buffers, degrees Celsius. */
  readonly temperatureC: number
  /** The one set all buffers are of, by its id; null or left out: not said. */
  readonly bufferSet?: BufferSetId | null
  readonly note: string
}

/** Soil whose water content was found by drying it, and what the probe showed in it. */
export interface SoilPoint {
  /** Same unit as the channel. */
  readonly raw: number
  /** Water content by volume, m3/m3. */
  readonly vwc: number
}

/** Two-point normalisation of a moisture probe, in force from `at` until the next one of the same channel. */
export interface MoistureCalibration {
  readonly kind: 'moisture'
  readonly id: number
  readonly probe: string
  readonly channel: string
  readonly at: number
  /** Raw value in dry air or oven-dry soil, and in water or saturated soil; same unit as the channel. */
  readonly dryRaw: number
  readonly wetRaw: number
  /** Two or more turn the share of the range into water by volume; none or left out: it stays a share. */
  readonly soilPoints?: readonly SoilPoint[]
  readonly note: string
}

export type Calibration = ElectrodeCalibration | MoistureCalibration
export type NewCalibration = Omit<ElectrodeCalibration, 'id'> | Omit<MoistureCalibration, 'id'>
