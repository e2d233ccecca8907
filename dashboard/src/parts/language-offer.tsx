import { useState } from 'preact/hooks'
import type { Language } from '../../../hub/model/language.ts'
import { api } from '../api.ts'
import { useHub } from '../hub-context.tsx'
import { language } from '../say.ts'
import { FormProblem, useSend } from './field.tsx'

/** Each in its own language: who is asked may not read the one the page is in. */
const OFFERS: Readonly<Record<Exclude<Language, 'en'>, { ask: string; yes: string; no: string }>> =
  {
    de: {
      ask: 'Seiten und Meldungen gibt es auch auf Deutsch.',
      yes: 'Auf Deutsch',
      no: 'Auf Englisch lassen',
    },
    es: {
      ask: 'Las páginas y los avisos también están en español.',
      yes: 'En español',
      no: 'Dejar en inglés',
    },
  }
const DECLINED = 'loamline.language-declined'

function declinedBefore(): boolean {
  try {
    return localStorage.getItem(DECLINED) !== null
  } catch {
    return false
  }
}

/** Offers the browser's language while the garden is empty and nobody has chosen one. */
export function LanguageOffer() {
  const { garden, beds, loaded, refresh } = useHub()
  const [declined, setDeclined] = useState(declinedBefore)
  const { problem, busy, send } = useSend()
  const wanted = navigator.language.slice(0, 2)
  if (!loaded || declined || beds.length > 0 || language() !== 'en') return null
  if (wanted !== 'de' && wanted !== 'es') return null
  const { ask, yes, no } = OFFERS[wanted]
  const decline = (): void => {
    setDeclined(true)
    try {
      localStorage.setItem(DECLINED, 'yes')
    } catch {
      // Without storage it is asked again the next time.
    }
  }
  return (
    <div data-needs="change" class="strip" lang={wanted} data-testid="language-offer">
      <div>
        <p class="sentence">{ask}</p>
        <FormProblem problem={problem} fields={[]} />
      </div>
      <p class="buttons">
        <button
          type="button"
          class="main"
          aria-disabled={busy}
          onClick={() =>
            send(async () => {
              await api.saveGarden({ ...garden, language: wanted })
              await refresh()
            })
          }
        >
          {yes}
        </button>
        <button type="button" class="quiet" onClick={decline}>
          {no}
        </button>
      </p>
    </div>
  )
}
