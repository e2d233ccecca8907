import { createHash } from 'node:crypto'
import { readdirSync, readFileSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { build } from 'vite'
import type { Plugin } from 'vite'

/** What is not part of the shell: the worker itself, and maps. */
const OUTSIDE = /^\/(worker\.js|.*\.map)$/

/**
 * Builds the service worker after the pages, into `worker.js` beside them: it knows every file they need, and
 * changes whenever one of them does.
 */
export function buildWorker(): Plugin {
  let folder = ''
  let root = ''
  return {
    name: 'loamline-worker',
    apply: 'build',
    configResolved(config) {
      root = config.root
      folder = resolve(config.root, config.build.outDir)
    },
    async closeBundle() {
      const files = readdirSync(folder, { recursive: true, withFileTypes: true })
        .filter((entry) => entry.isFile())
        .map((entry) => join(entry.parentPath, entry.name).slice(folder.length))
        .filter((file) => !OUTSIDE.test(file))
        .toSorted()
      const hash = createHash('sha256')
      for (const file of files) hash.update(file).update(readFileSync(join(folder, file)))
      await build({
        configFile: false,
        root,
        publicDir: false,
        logLevel: 'warn',
        define: {
          SHELL_FILES: JSON.stringify(files),
          SHELL_VERSION: JSON.stringify(hash.digest('hex').slice(0, 16)),
        },
        build: {
          outDir: folder,
          emptyOutDir: false,
          target: 'es2023',
          rolldownOptions: {
            input: join(root, 'src/worker/worker.ts'),
            output: { format: 'iife', entryFileNames: 'worker.js' },
          },
        },
      })
    },
  }
}
