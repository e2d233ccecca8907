import { CONFIG_FILE_ENV, SETTINGS } from '../config/settings.ts'

/** Prints every setting: environment variable, key in the config file, unit, default, sentence. */
export function settings(): Promise<void> {
  for (const s of SETTINGS) {
    console.log(`${s.env}  (${s.key}, ${s.unit}, default: ${s.default})\n    ${s.sentence}`)
  }
  console.log(
    `${CONFIG_FILE_ENV}\n    A JSON file with any of the keys above, such as {"httpPort": 8090}.`,
  )
  return Promise.resolve()
}
