import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['tests/**/*.test.{ts,tsx}'],
    // Two cores are what a small home server has; more workers only make the system tests wait for each other.
    maxWorkers: 2,
    testTimeout: 20_000,
    hookTimeout: 60_000,
  },
})
