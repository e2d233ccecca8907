import { useState } from 'preact/hooks'
import type { BroughtBackView, DamagedPartView } from '../../../../hub/api/schemas/damaged.ts'
import { api, files } from '../../api.ts'
import { dateTime, whole } from '../../format.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { said, say, toSay } from '../../say.ts'
import { FormProblem, useSend } from '../field.tsx'
import { Confirm } from '../form.tsx'
import { bytes } from './bytes.ts'

const WHAT: Readonly<Record<DamagedPartView['what'], string>> = {
  batch: toSay('Readings of which nobody can tell the probe'),
  readings: toSay('Readings'),
  names: toSay('Names of readings that have become hours'),
  hours: toSay('Hours that stand for readings'),
}

/** Readings that were found damaged on the disk, and what becomes of them; nothing where there are none. */
export function Damaged() {
  const { garden, loaded } = useHub()
  const parts = useLoad(loaded ? 'damaged' : null, api.damaged)
  const { problem, busy, send } = useSend()
  const [told, setTold] = useState('')
  const { data } = parts
  if (data === null || data.length === 0) return null
  const { units } = garden
  const n = (value: number): string => whole(value, units)
  const open = data.filter(({ settled }) => settled === null)
  const bring = (file: File | undefined): void => {
    if (file === undefined || busy) return
    setTold(say`The backup is being looked through …`)
    send(async () => {
      try {
        const brought = await api.bringBack(file)
        setTold(toldOf(brought, n))
      } catch (error) {
        setTold('')
        throw error
      }
      parts.reload()
    })
  }
  return (
    <section aria-labelledby="damaged-title" data-testid="damaged">
      <h3 id="damaged-title">{say`Damaged readings`}</h3>
      <p class="sentence">
        {open.length === 0
          ? say`Everything that was found damaged on the disk is settled.`
          : say`These bytes were changed on the disk by something other than the hub. They were put aside as they were found; everything else goes on. Look after the disk, and make a backup to another one.`}
      </p>
      <ul class="damaged">
        {data.map((part) => (
          <li key={part.id}>
            {said(WHAT[part.what])} ({n(part.readings)})
            {part.probe !== null && part.from !== null && part.to !== null && (
              <>
                {', '}
                <span class="id">{part.probe}</span>,{' '}
                {say`${dateTime(part.from, garden)} to ${dateTime(part.to, garden)}`}
              </>
            )}
            <br />
            <span class="faint">
              {say`found ${dateTime(part.metAt, garden)}`}
              {part.settled === null && part.now !== null && part.what !== 'hours' && (
                <>, {say`kept now of that time: ${n(part.now)}`}</>
              )}
              {part.back > 0 && <>, {say`came back out of a backup: ${n(part.back)}`}</>}
              {part.settled?.how === 'gone' && (
                <>, {say`given up ${dateTime(part.settled.at, garden)}`}</>
              )}
            </span>
            {part.settled === null && (
              <span class="buttons">
                <a class="button" href={files.damaged(part.id)} download>
                  {say`Download ${bytes(part.bytes, units)} as they were found`}
                </a>
                <Confirm
                  words={say`Do without them`}
                  ask={say`The bytes are deleted for good, and from then on no backup brings them back; try one first. Go on?`}
                  onYes={() =>
                    send(async () => {
                      await api.damageGone(part.id)
                      parts.reload()
                    })
                  }
                />
              </span>
            )}
          </li>
        ))}
      </ul>
      {open.length > 0 && (
        <div class="field long" data-needs="change">
          <label>
            {say`Bring them back out of a backup`}
            <input
              type="file"
              accept=".tar,application/x-tar"
              disabled={busy}
              onChange={(event) => bring(event.currentTarget.files?.[0])}
            />
          </label>
          <small class="hint">{say`The file of the page Data, made when they were still whole. Only what is damaged is taken out of it; nothing else changes.`}</small>
        </div>
      )}
      <FormProblem problem={problem} fields={[]} />
      <p role="status" class="faint">
        {told}
      </p>
    </section>
  )
}

function toldOf({ parts, readings }: BroughtBackView, n: (value: number) => string): string {
  const useless = parts.filter(({ why }) => why !== null).length
  const hours = parts.some(({ why }) => why === 'hours only')
  const came = say`Readings that came back: ${n(readings)}.`
  if (useless === 0) return came
  const rest = hours
    ? say`Some of those days have become hours in this backup; an older one may still have them.`
    : say`Some are not in this backup; another one may have them.`
  return `${came} ${rest}`
}
