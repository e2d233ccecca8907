import type { ImportMap } from '#hub/transfer/import-map.ts'
import { openStores } from '#hub/store/open.ts'
import type { Stores } from '#hub/store/open.ts'
import type { TransferDeps } from '#hub/transfer/check-import.ts'
import { exportReadings } from '#hub/transfer/export-readings.ts'
import type { ExportAsked } from '#hub/transfer/export-readings.ts'
import { tempDir } from '../../support/temp-dir.ts'

export const NOW = Date.parse('2026-06-01T12:00:00Z')

export interface TransferHost extends AsyncDisposable {
  readonly path: string
  readonly stores: Stores
  readonly deps: TransferDeps
  /** All readings as one text. */
  export(asked?: Partial<ExportAsked>): Promise<string>
}

/** Real stores in a folder of their own. */
export async function transferHost(): Promise<TransferHost> {
  const dir = tempDir()
  const stores = await openStores(dir.path, { zone: 'Europe/Lisbon' })
  return {
    path: dir.path,
    stores,
    deps: { ...stores, clock: () => NOW },
    async export(asked = {}) {
      const all: ExportAsked = {
        probes: null,
        channels: null,
        from: 0,
        to: NOW,
        step: 'raw',
        layout: 'wide',
        zone: 'UTC',
        ...asked,
      }
      return (await Array.fromAsync(exportReadings(stores, all))).join('')
    },
    async [Symbol.asyncDispose]() {
      await stores.close()
      dir[Symbol.dispose]()
    },
  }
}

/** A text as a file that comes in pieces, cut anywhere. */
// oxlint-disable-next-line require-await -- a source is asynchronous
export async function* fileOf(text: string, piece = 37): AsyncGenerator<Uint8Array> {
  const bytes = Buffer.from(text)
  for (let at = 0; at < bytes.length; at += piece) yield bytes.subarray(at, at + piece)
}

export const WIDE: ImportMap = {
  layout: 'wide',
  delimiter: ',',
  decimal: '.',
  headings: true,
  time: { column: 'time', format: 'iso', zone: 'UTC' },
  probe: { id: 'fern1' },
  channels: [
    { column: 'mv', channel: 'phmv', unit: '', senses: null },
    { column: 'soil', channel: 'st', unit: '°F', senses: null },
  ],
}
