import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['tests/**/*.test.{ts,tsx}'],
    // It needs a container engine, and has a configuration of its own.
    exclude: ['tests/stack/**'],
    globalSetup: ['tests/support/services/tell-backend.ts'],
    // Two cores are what a small home server has; more workers only make the system tests wait for each other.
    maxWorkers: 2,
    setupFiles: ['tests/support/same-chance.ts'],
    testTimeout: 20_000,
    hookTimeout: 60_000,
  },
})
