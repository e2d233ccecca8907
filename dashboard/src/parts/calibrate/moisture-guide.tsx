import type { ProbeView } from '../../../../hub/api/schemas/probe.ts'
import { num } from '../../format.ts'
import { unitWords } from '../../sensed-words.ts'
import { endsOf, guidedCalibration } from '../../guide-draft.ts'
import type { GuideDraft } from '../../guide-draft.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say, toSay } from '../../say.ts'
import { Judgement } from './judgement.tsx'
import { LiveValue } from './live-value.tsx'
import { SoilPointForm } from './soil-point-form.tsx'
import { Steps } from './steps.tsx'

interface MoistureGuideProps {
  readonly probe: ProbeView
  readonly draft: GuideDraft
  readonly onDraft: (draft: GuideDraft) => void
  readonly onStored: () => void
}

const ENDS = {
  dryRaw: {
    title: toSay('In dry air'),
    does: toSay(
      'Wipe the probe, let it dry and hold it free in the air; touch nothing of its blade.',
    ),
    ready: toSay('It hangs in the air'),
  },
  wetRaw: {
    title: toSay('In water'),
    does: toSay(
      'Stand it in a glass of water up to its mark and no deeper: what is above must stay dry. Battery or safe low voltage only.',
    ),
    ready: toSay('It stands in the water'),
  },
} as const

/** Dry and wet point of a moisture probe, then soils of known water. */
export function MoistureGuide({ probe, draft, onDraft, onStored }: MoistureGuideProps) {
  const { garden, aheadMs } = useHub()
  const channel = probe.channels.find((c) => c.name === draft.channel)
  const unit = channel?.unit ?? 'count'
  const at = draft.dryRaw === null ? 0 : draft.wetRaw === null ? 1 : draft.soilDone ? 3 : 2
  const end = at === 0 ? 'dryRaw' : at === 1 ? 'wetRaw' : null
  const before = endsOf(probe.calibrations, draft.channel)
  const shown = (value: number | null): string =>
    `${num(value, 0, garden.units)} ${unitWords(unit)}`
  return (
    <>
      <Steps
        steps={[say`In dry air`, say`In water`, say`Own soils`, say`Judge and store`]}
        at={at}
      />
      {end !== null && (
        <section class="sheet" aria-labelledby="guide-end">
          <h2 id="guide-end">{said(ENDS[end].title)}</h2>
          <p class="sentence">{said(ENDS[end].does)}</p>
          {draft.since === null ? (
            <p class="buttons">
              <button
                type="button"
                class="main"
                onClick={() => {
                  const now = Date.now() + aheadMs
                  onDraft({ ...draft, startedAt: draft.startedAt ?? now, since: now })
                }}
              >
                {said(ENDS[end].ready)}
              </button>
              {at === 0 && before !== null && (
                <button
                  type="button"
                  onClick={() => onDraft({ ...draft, ...before, startedAt: Date.now() + aheadMs })}
                >{say`Keep the points it has (${shown(before.dryRaw)}, ${shown(before.wetRaw)})`}</button>
              )}
            </p>
          ) : (
            <LiveValue
              probe={probe.id}
              channel={draft.channel}
              unit={unit}
              intervalS={probe.intervalS}
              since={draft.since}
              onTake={(value) => onDraft({ ...draft, [end]: value, since: null })}
            />
          )}
        </section>
      )}
      {at === 2 && (
        <section class="sheet" aria-labelledby="guide-soil">
          <h2 id="guide-soil">{say`Own soils`}</h2>
          <p class="sentence">{say`Dry and wet point make a share of the probe's range. Two or more soils of known water, one dry and one moist, turn it into water by volume. A raised-bed mix needs its own: published equations are made for mineral soil. You may also leave this out.`}</p>
          <SoilList draft={draft} onDraft={onDraft} unit={unit} />
          <SoilPointForm
            probe={probe}
            channel={draft.channel}
            unit={unit}
            onPoint={(point) => onDraft({ ...draft, soilPoints: [...draft.soilPoints, point] })}
          />
          <p class="buttons">
            <button
              type="button"
              class="main"
              onClick={() => onDraft({ ...draft, soilDone: true })}
            >
              {draft.soilPoints.length === 0 ? say`Go on without` : say`Go on`}
            </button>
          </p>
        </section>
      )}
      {at === 3 && (
        <section class="sheet" aria-labelledby="guide-judge">
          <h2 id="guide-judge">{say`Judge and store`}</h2>
          <p>{say`Dry ${shown(draft.dryRaw)}, wet ${shown(draft.wetRaw)}.`}</p>
          <SoilList draft={draft} onDraft={onDraft} unit={unit} />
          <Judgement
            probe={probe.id}
            before={draft.startedAt ?? Date.now() + aheadMs}
            make={(time, note) => guidedCalibration(draft, 'moisture', time, note)}
            onStored={onStored}
          />
          <p class="buttons">
            <button
              type="button"
              class="quiet"
              onClick={() => onDraft({ ...draft, soilDone: false })}
            >{say`One step back`}</button>
          </p>
        </section>
      )}
    </>
  )
}

function SoilList({
  draft,
  onDraft,
  unit,
}: Pick<MoistureGuideProps, 'draft' | 'onDraft'> & { readonly unit: string }) {
  const { garden } = useHub()
  if (draft.soilPoints.length === 0) return null
  return (
    <ul class="hand-values" aria-label={say`Soils of known water`}>
      {draft.soilPoints.map((point) => (
        <li key={`${point.raw} ${point.vwc}`}>
          <span>
            {num(point.raw, 0, garden.units)} {unitWords(unit)}:{' '}
            <strong>{say`${num(100 * point.vwc, 1, garden.units)} % by volume`}</strong>
          </span>
          <button
            type="button"
            class="quiet"
            onClick={() =>
              onDraft({ ...draft, soilPoints: draft.soilPoints.filter((one) => one !== point) })
            }
          >{say`Take back`}</button>
        </li>
      ))}
    </ul>
  )
}
