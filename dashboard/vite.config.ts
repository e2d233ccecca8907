import { defineConfig } from 'vite'
import { buildWorker } from './build-worker.ts'

export default defineConfig({
  root: import.meta.dirname,
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: { outDir: 'dist', emptyOutDir: true, target: 'es2023', assetsInlineLimit: 0 },
  server: { proxy: { '/api': 'http://127.0.0.1:8090' } },
  plugins: [buildWorker()],
})
