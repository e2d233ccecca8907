import { AMENDMENT_ROWS } from '#hub/agronomy/amendments.ts'
import { BUFFER_SETS } from '#hub/agronomy/buffers.ts'
import { CROP_ROWS } from '#hub/agronomy/crops.ts'
import { DOSINGS } from '#hub/agronomy/dosing.ts'
import { DISTILLED, HAND_PROTOCOLS } from '#hub/agronomy/hand-measuring.ts'
import { NUTRIENT_ROWS } from '#hub/agronomy/nutrients.ts'
import { TEXTURES } from '#hub/model/bed.ts'
import { SAMPLE_METHODS } from '#hub/model/journal.ts'
import type { Text } from './texts.ts'

const TABLES: Readonly<Record<string, readonly (string | null)[]>> = {
  'hub/agronomy/crops.ts': CROP_ROWS.map(({ name }) => name),
  'hub/agronomy/amendments.ts': AMENDMENT_ROWS.flatMap(({ name, note, caution }) => [
    name,
    note,
    caution,
  ]),
  'hub/agronomy/dosing.ts': DOSINGS.flatMap(({ label, cautions }) => [
    label.words,
    ...cautions.map(({ text }) => text),
  ]),
  'hub/agronomy/nutrients.ts': NUTRIENT_ROWS.flatMap(({ name, why }) => [name, why]),
  'hub/agronomy/hand-measuring.ts': [
    DISTILLED,
    ...HAND_PROTOCOLS.flatMap(({ steps }) => steps.flatMap(({ title, text }) => [title, text])),
  ],
  // A buffer that is called by its pH is called so in every language.
  'hub/agronomy/buffers.ts': BUFFER_SETS.flatMap(({ name, buffers }) => [
    name,
    ...buffers.map((buffer) => buffer.name),
  ]).filter((name) => !/^[\d.]+$/.test(name)),
  'hub/model/bed.ts': TEXTURES,
  'hub/model/journal.ts': SAMPLE_METHODS,
}

/** Texts of the hub's tables, which are said where a table is read. */
export function tableTexts(): Text[] {
  return Object.entries(TABLES).flatMap(([file, texts]) =>
    Array.from(new Set(texts)).flatMap((source) => (source === null ? [] : [{ file, source }])),
  )
}
