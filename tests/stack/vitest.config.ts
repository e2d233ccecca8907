import { defineConfig } from 'vitest/config'

/** The stack of docker-compose.yml: it needs a container engine, so `npm test` goes without it and says so. */
export default defineConfig({
  test: {
    root: new URL('../..', import.meta.url).pathname,
    include: ['tests/stack/**/*.test.ts'],
    testTimeout: 120_000,
    hookTimeout: 300_000,
  },
})
