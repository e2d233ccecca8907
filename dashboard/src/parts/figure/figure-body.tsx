import { useLayoutEffect, useRef, useState } from 'preact/hooks'
import type { DrawAgain } from '../../chart/picture-place.ts'
import { dateOnly, dateTime } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { csvOf } from './csv.ts'
import type { FigureTable } from './figure-table.ts'
import { pictureOf } from './picture.ts'
import type { PictureWords } from './picture.ts'
import { fileName, saveFile } from './save-file.ts'
import { windowOf } from './windowed.ts'
import './figure.css'

/** Rows are all as high as one line; the style sheet says the same. */
const ROW_PX = 30
const HEIGHT_PX = 352

/** Every row of a chart; only those in sight are in the page. */
function Rows({ table, name }: { table: FigureTable; name: string }) {
  const { garden } = useHub()
  const [topPx, setTop] = useState(0)
  const place = useRef<HTMLDivElement>(null)
  const { times, columns, caption } = table
  const write = table.days === true ? dateOnly : dateTime
  const { first, end } = windowOf(times.length, { rowPx: ROW_PX, heightPx: HEIGHT_PX, topPx })
  // Another stretch of time begins at its newest row.
  useLayoutEffect(() => {
    if (place.current !== null) place.current.scrollTop = 0
    setTop(0)
  }, [times[0], times.length])
  const blank = (rows: number) =>
    rows > 0 && (
      <tr aria-hidden="true" class="blank" style={{ height: `${rows * ROW_PX}px` }}>
        <td colSpan={columns.length + 1}>&nbsp;</td>
      </tr>
    )
  return (
    <div
      class="figure-rows"
      ref={place}
      // oxlint-disable-next-line jsx-a11y/no-noninteractive-tabindex -- it scrolls, so the keyboard must reach it
      tabIndex={0}
      role="region"
      aria-label={say`${name} as numbers`}
      onScroll={(event) => setTop(event.currentTarget.scrollTop)}
    >
      <table aria-rowcount={times.length + 1}>
        <caption>{caption}</caption>
        <thead>
          <tr aria-rowindex={1}>
            <th scope="col">{table.days === true ? say`Day` : say`When`}</th>
            {columns.map(({ head }) => (
              <th scope="col" key={head}>
                {head}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {blank(first)}
          {times.slice(first, end).map((at, i) => (
            <tr key={at} aria-rowindex={first + i + 2}>
              <th scope="row">{write(at, garden)}</th>
              {columns.map(({ head, shown }) => (
                <td key={head}>{shown(first + i)}</td>
              ))}
            </tr>
          ))}
          {blank(times.length - end)}
        </tbody>
      </table>
    </div>
  )
}

interface FigureBodyProps {
  readonly name: string
  readonly table: FigureTable
  readonly picture: PictureWords
  /** How the chart is drawn; null before it is. */
  readonly draw: () => DrawAgain | null
  /** What the files are named after. */
  readonly file: readonly string[]
}

/** What is behind a chart: its numbers, and both as files. */
export function FigureBody({ name, table, picture, draw, file }: FigureBodyProps) {
  const { garden } = useHub()
  const [trouble, setTrouble] = useState(false)
  const saveCsv = (): void => {
    const text = csvOf(table, garden.zone, say`Time (${garden.zone})`)
    saveFile(`${fileName(...file)}.csv`, new Blob([text], { type: 'text/csv;charset=utf-8' }))
  }
  const savePicture = async (): Promise<void> => {
    const how = draw()
    if (how === null) return
    setTrouble(false)
    try {
      saveFile(`${fileName(...file)}.png`, await pictureOf(how, picture))
    } catch {
      setTrouble(true)
    }
  }
  return (
    <div class="figure-body">
      <p class="buttons">
        <button type="button" onClick={saveCsv} aria-label={say`${name}: download the table (CSV)`}>
          {say`Table (CSV)`}
        </button>
        <button
          type="button"
          onClick={() => void savePicture()}
          aria-label={say`${name}: download the picture (PNG)`}
        >
          {say`Picture (PNG)`}
        </button>
      </p>
      {trouble && (
        <p class="error" role="alert">
          {say`The browser could not make the picture.`}
        </p>
      )}
      {table.times.length === 0 ? (
        <p class="faint">{say`nothing known in this stretch of time`}</p>
      ) : (
        <Rows table={table} name={name} />
      )}
    </div>
  )
}
