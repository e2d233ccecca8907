import type { ComponentChildren } from 'preact'
import { useRef } from 'preact/hooks'
import { PicturePlace } from '../../chart/picture-place.ts'
import type { DrawAgain } from '../../chart/picture-place.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { later } from '../later.tsx'
import type { FigureTable } from './figure-table.ts'
import { FigureMore } from './figure-more.tsx'
import type { LegendRow } from './picture.ts'

const FigureBody = later(async () => (await import('./figure-body.tsx')).FigureBody)

export interface ChartFigureProps {
  /** What is drawn, as in 'pH'. */
  readonly name: string
  /** Unit of its axis; '' for none. */
  readonly unit: string
  /** Of what: a bed, a probe. */
  readonly of: string
  /** What the chart shows, in a sentence. */
  readonly summary: string
  readonly note?: string | undefined
  readonly legend: readonly LegendRow[]
  /** Made when somebody asks for it. */
  readonly table: () => FigureTable
  /** The name stands before the chart; `below`: the words stand under it; `none`: they are for listeners only. */
  readonly words?: 'above' | 'below' | 'none'
  readonly children: ComponentChildren
}

/** A chart with its name, its summary in words, and on demand its numbers, as a table and as files. */
export function ChartFigure(props: ChartFigureProps) {
  const { name, unit, summary, words = 'above' } = props
  const { garden } = useHub()
  const place = useRef<DrawAgain | null>(null)
  const caption = (
    <figcaption class={words === 'none' ? 'unseen' : ''}>
      <strong>{unit === '' ? name : `${name}, ${unit}`}</strong>
      <span class="faint">{summary}</span>
      {props.note !== undefined && <span class="faint">{props.note}</span>}
    </figcaption>
  )
  return (
    <figure>
      {words !== 'below' && caption}
      <PicturePlace.Provider value={place}>{props.children}</PicturePlace.Provider>
      {words === 'below' && caption}
      <FigureMore name={name}>
        {() => (
          <FigureBody
            name={name}
            table={props.table()}
            draw={() => place.current}
            file={[props.of, name]}
            picture={{
              title: `${props.of}: ${unit === '' ? name : `${name}, ${unit}`}`,
              subtitle: summary,
              legend: props.legend,
              foot: [
                ...(props.note === undefined ? [] : [props.note]),
                say`Times in ${garden.zone}`,
              ],
            }}
          />
        )}
      </FigureMore>
    </figure>
  )
}
