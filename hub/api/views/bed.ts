import { cropBySlug } from '../../agronomy/crops.ts'
import type { Assessment, Present } from '../../analysis/assessment.ts'
import { bandFor } from '../../analysis/band.ts'
import type { Alarm } from '../../model/alarm.ts'
import type { Bed, Spot } from '../../model/bed.ts'
import { holdsAt, type Placement } from '../../model/probe.ts'
import type { BedView, Present as PresentView, SpotView } from '../schemas/bed.ts'
import { alarmView } from './alarm.ts'
import { say } from '../../words/say.ts'

/** What stands where nothing has been looked at: not yet, or no longer. */
function unseen(bed: Bed): { readonly sentence: string; readonly present: PresentView } {
  return bed.retiredAt === null
    ? {
        sentence: say`This bed has not been looked at yet.`,
        present: { status: 'insufficient', have: say`not looked at yet`, need: say`a moment` },
      }
    : {
        sentence: say`This bed is out of use; its history stays.`,
        present: { status: 'insufficient', have: say`out of use`, need: say`a bed in use` },
      }
}

function present(value: Present): PresentView {
  if (value.status === 'insufficient') return { ...value }
  return {
    status: 'ok',
    value: value.value,
    halfWidth: value.halfWidth,
    at: Math.round(value.at),
    used: [...value.used],
    leftOut: value.leftOut.map((l) => ({ ...l })),
  }
}

export interface BedParts {
  readonly bed: Bed
  readonly spots: readonly Spot[]
  readonly placements: readonly Placement[]
  readonly alarms: readonly Alarm[]
  readonly assessment: Assessment | null
  /** Now, epoch ms: which placements hold. */
  readonly at: number
}

/** What the garden page shows of one bed. */
export function bedView({ bed, spots, placements, alarms, at, ...parts }: BedParts): BedView {
  // What was last seen of a bed that has been taken out of use since says nothing of now.
  const assessment = bed.retiredAt === null ? parts.assessment : null
  const band = bandFor(bed)
  const nothing = unseen(bed)
  const sitting = new Map(placements.filter((p) => holdsAt(p, at)).map((p) => [p.spotId, p.probe]))
  const seen = new Map(assessment?.spots.map((s) => [s.spotId, s]))
  return {
    id: bed.id,
    name: bed.name,
    areaM2: bed.areaM2,
    depthM: bed.depthM,
    texture: bed.texture,
    crops: bed.crops.map((slug) => ({ slug, name: cropBySlug(slug)?.name ?? slug })),
    ownBand: bed.ownBand,
    rank: bed.rank,
    retiredAt: bed.retiredAt,
    assessedAt: assessment?.at ?? null,
    ph: assessment === null ? nothing.present : present(assessment.ph),
    moisture: assessment === null ? nothing.present : present(assessment.moisture),
    temperature: assessment === null ? nothing.present : present(assessment.temperature),
    band: { status: band.status, band: band.band, sentence: band.sentence },
    standing: assessment?.standing ?? 'unknown',
    sentence: assessment?.sentence ?? nothing.sentence,
    spots: spots
      .filter((s) => s.bedId === bed.id)
      .map((s): SpotView => {
        const view = seen.get(s.id)
        const probe = sitting.get(s.id) ?? null
        return {
          spotId: s.id,
          spot: s.name,
          probe,
          ph: view?.ph ?? null,
          newestPh: view?.newestPh ?? null,
          moisture: view?.moisture ?? null,
          temperatureC: view?.temperatureC ?? null,
          at: view?.at ?? null,
          leftOut: view?.leftOut ?? (probe === null ? say`no probe sits here` : null),
        }
      }),
    notices: (assessment?.probes ?? []).map((p) => ({
      probe: p.probe,
      spot: p.spot,
      kind: p.kind,
      needsCheck: p.needsCheck,
      sentence: p.sentence,
    })),
    alarms: alarms.filter((a) => a.bedId === bed.id).map((a) => alarmView(a, bed.name)),
  }
}
