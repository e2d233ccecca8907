import { defineConfig } from 'vite'
import { buildWorker } from './build-worker.ts'
import { firstChunk } from './first-chunk.ts'

export default defineConfig({
  root: import.meta.dirname,
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    outDir: 'dist',
    emptyOutDir: true,
    target: 'es2023',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    rolldownOptions: {
      output: {
        codeSplitting: { groups: [{ name: firstChunk(), debugName: 'what the first page needs' }] },
      },
    },
  },
  server: { proxy: { '/api': 'http://127.0.0.1:8090' } },
  plugins: [buildWorker()],
})
