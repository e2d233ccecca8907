import { api } from '../api.ts'
import { useHub } from '../hub-context.tsx'
import { BedForm } from '../parts/bed-form.tsx'
import { say } from '../say.ts'
import { go } from '../use-route.ts'

/** Adds a bed. */
export function NewBedView() {
  const { loaded, refresh } = useHub()
  if (!loaded) return <p class="quiet-line">{say`Fetching the garden …`}</p>
  return (
    <>
      <div class="page-head">
        <h1>{say`New bed`}</h1>
      </div>
      <section class="sheet">
        <BedForm
          bed={null}
          onCancel={() => go({ page: 'garden' })}
          onSave={async (input) => {
            const bed = await api.addBed(input)
            await refresh('beds')
            go({ page: 'bed', id: bed.id })
          }}
        />
      </section>
    </>
  )
}
