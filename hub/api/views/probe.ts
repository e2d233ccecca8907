import { checkCalibration } from '../../analysis/measure/check-calibration.ts'
import type { Bed, Spot } from '../../model/bed.ts'
import {
  holdsAt,
  type Calibration,
  type Channel,
  type Placement,
  type Probe,
} from '../../model/probe.ts'
import type { LatestValue } from '../../store/reading-store.ts'
import type { ProbeAccessView } from '../schemas/access.ts'
import type { CalibrationView, ProbeView } from '../schemas/probe.ts'
import { finite } from './column.ts'
import { say } from '../../words/say.ts'

export function calibrationView(c: Calibration): CalibrationView {
  const electrode = c.kind === 'electrode'
  return {
    id: c.id,
    probe: c.probe,
    channel: c.channel,
    kind: c.kind,
    at: c.at,
    points: electrode ? c.points.map((p) => ({ ...p })) : [],
    temperatureC: electrode ? c.temperatureC : null,
    bufferSet: electrode ? (c.bufferSet ?? null) : null,
    dryRaw: electrode ? null : c.dryRaw,
    wetRaw: electrode ? null : c.wetRaw,
    soilPoints: electrode ? [] : (c.soilPoints ?? []).map((p) => ({ ...p })),
    note: c.note,
    check: { ...checkCalibration(c) },
  }
}

export interface ProbeParts {
  readonly probes: readonly Probe[]
  readonly channels: readonly Channel[]
  readonly placements: readonly Placement[]
  readonly calibrations: readonly Calibration[]
  readonly latest: readonly LatestValue[]
  readonly spots: readonly Spot[]
  readonly beds: readonly Bed[]
  readonly access: (probe: string) => ProbeAccessView
  /** Now, epoch ms: which placements hold. */
  readonly at: number
}

/** A spread channel `x.s` belongs to x and is not shown on its own. */
const isSpread = (channel: string): boolean => channel.endsWith('.s')

export function probeViews(parts: ProbeParts): ProbeView[] {
  const spots = new Map(parts.spots.map((s) => [s.id, s]))
  const beds = new Map(parts.beds.map((b) => [b.id, b]))
  const latest = new Map(parts.latest.map((l) => [`${l.probe} ${l.channel}`, l]))
  return parts.probes.map((p): ProbeView => {
    const placements = parts.placements.filter((x) => x.probe === p.id)
    const now = placements.find((x) => holdsAt(x, parts.at))
    const spot = now === undefined ? undefined : spots.get(now.spotId)
    const bed = spot === undefined ? undefined : beds.get(spot.bedId)
    return {
      ...p,
      access: parts.access(p.id),
      spotId: spot?.id ?? null,
      spot: spot?.name ?? null,
      bedId: bed?.id ?? null,
      bed: bed?.name ?? null,
      channels: parts.channels
        .filter((c) => c.probe === p.id && !isSpread(c.name))
        .map((c) => {
          const newest = latest.get(`${p.id} ${c.name}`)
          return {
            name: c.name,
            senses: c.senses,
            unit: c.unit,
            depthM: c.depthM,
            described: c.described,
            latest: finite(newest?.value ?? null),
            latestAt: newest === undefined ? null : Math.round(newest.at),
          }
        }),
      placements: placements.map((x) => {
        const at = spots.get(x.spotId)
        return {
          id: x.id,
          spotId: x.spotId,
          spot: at?.name ?? say`spot ${x.spotId}`,
          bed: beds.get(at?.bedId ?? 0)?.name ?? '',
          from: x.from,
          to: x.to,
        }
      }),
      calibrations: parts.calibrations.filter((c) => c.probe === p.id).map(calibrationView),
    }
  })
}
