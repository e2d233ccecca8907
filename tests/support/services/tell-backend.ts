import { chooseBackend } from './choose-backend.ts'

/** Says before a run of tests what brokers and databases will be, and what is not part of it. */
export default async function tellBackend(): Promise<void> {
  const asked = process.env['TEST_SERVICES'] ?? 'auto'
  try {
    const { backend, why } = await chooseBackend(asked)
    const how =
      backend === 'containers' ? 'containers of the engine' : 'programs installed on this machine'
    console.log(
      `\nBrokers and databases of tests: ${how} (TEST_SERVICES=${backend}: ${why}).\n` +
        'docker-compose.yml has tests of its own, which need an engine: npm run test:stack',
    )
  } catch (error) {
    // Tests that need none can run; those that do fail with the same sentence.
    console.error(`\n${(error as Error).message}`)
  }
}
