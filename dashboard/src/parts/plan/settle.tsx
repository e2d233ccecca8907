import { Fragment } from 'preact'
import type { ComponentType } from 'preact'
import { useRef, useState } from 'preact/hooks'
import type { SoilInput } from '../../../../hub/api/schemas/planning.ts'
import type { Settle } from '../../../../hub/planning/told.ts'
import { useHub } from '../../hub-context.tsx'
import { api } from '../../api.ts'
import { said, say } from '../../say.ts'
import { BedForm } from '../bed-form.tsx'
import { Link } from '../link.tsx'
import { JarForm } from './jar-form.tsx'
import { LaboratoryForm } from './laboratory-form.tsx'
import { SETTLE_WORDS } from './plan-words.ts'
import { SampleForm } from './sample-form.tsx'
import { SoilForm } from './soil-form.tsx'
import { VinegarForm } from './vinegar-form.tsx'

export interface SettleFormProps {
  readonly bedId: number
  readonly soil: SoilInput
  readonly onDone: () => void
  readonly onCancel: () => void
}

const FORMS = {
  sample: SampleForm,
  'soil form': SoilForm,
  'vinegar test': VinegarForm,
  'jar test': JarForm,
  laboratory: LaboratoryForm,
  'bed form': OwnBedForm,
} satisfies Readonly<Record<string, ComponentType<SettleFormProps>>>

/** A way to put something right on the spot: those that the hub names, and a laboratory's sheet. */
export type Way = keyof typeof FORMS

function OwnBedForm({ bedId, onDone, onCancel }: SettleFormProps) {
  const { beds, refresh } = useHub()
  return (
    <BedForm
      bed={beds.find(({ id }) => id === bedId) ?? null}
      onCancel={onCancel}
      onSave={async (input) => {
        await api.saveBed(bedId, input)
        await refresh('beds')
        onDone()
      }}
    />
  )
}

interface SettlesProps {
  readonly ways: readonly (Settle | 'laboratory')[]
  readonly bedId: number
  readonly soil: SoilInput
  readonly onDone: () => void
}

/** Buttons for what can be put right here; the form opens in their place. */
export function Settles({ ways, bedId, soil, onDone }: SettlesProps) {
  const { probes } = useHub()
  const [open, setOpen] = useState<Way | null>(null)
  const openers = useRef<HTMLParagraphElement>(null)
  const back = useRef<Way | null>(null)
  // What had the focus goes away with the form: it is put back on what opened it.
  const close = (): void => {
    back.current = open
    setOpen(null)
    queueMicrotask(() =>
      requestAnimationFrame(() =>
        openers.current?.querySelector<HTMLElement>(`[data-way="${back.current}"]`)?.focus(),
      ),
    )
  }
  if (open !== null) {
    const Shown = FORMS[open]
    return (
      <Shown
        bedId={bedId}
        soil={soil}
        onCancel={close}
        onDone={() => {
          close()
          onDone()
        }}
      />
    )
  }
  const here = probes.filter((probe) => probe.bedId === bedId)
  return (
    <p class="settles" ref={openers}>
      {ways.includes('sample') && (
        <Link data-needs="change" to={{ page: 'measure', id: bedId }}>{say`Measure by hand`}</Link>
      )}
      {ways.map((way) =>
        way === 'calibrate' ? (
          <Fragment key={way}>
            {here.length === 0 && (
              <Link to={{ page: 'probes' }}>{said(SETTLE_WORDS.calibrate)}</Link>
            )}
            {here.map(({ id, name }) => (
              <Link
                data-needs="change"
                key={id}
                to={{ page: 'calibrate', id }}
              >{say`Calibrate ${name}`}</Link>
            ))}
          </Fragment>
        ) : (
          <button
            data-needs="change"
            key={way}
            type="button"
            data-way={way}
            onClick={() => setOpen(way)}
          >
            {way === 'laboratory' ? say`Write a laboratory’s figure down` : said(SETTLE_WORDS[way])}
          </button>
        ),
      )}
    </p>
  )
}
