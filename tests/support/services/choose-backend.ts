import { containerEngine } from './container-engine.ts'
import { findProgram } from './find-program.ts'
import type { Backend } from './service.ts'

const PROGRAMS = ['mosquitto', 'influxd']

/**
 * How services are run here. `auto` takes an engine where there is one, else the installed programs; with
 * neither it is an error: tests that silently do nothing prove nothing.
 *
 * @param asked value of TEST_SERVICES: 'containers', 'processes' or 'auto'
 * @param programs names of the programs that are needed where there is no engine
 */
export async function chooseBackend(
  asked: string,
  programs: readonly string[] = PROGRAMS,
  engine: () => Promise<unknown> = containerEngine,
): Promise<{ readonly backend: Backend; readonly why: string }> {
  if (asked !== 'containers' && asked !== 'processes' && asked !== 'auto')
    throw new Error(`TEST_SERVICES: expected containers, processes or auto, got ${asked}`)
  const reasons: string[] = []
  if (asked !== 'processes') {
    try {
      await engine()
      return { backend: 'containers', why: asked === 'auto' ? 'an engine is here' : 'asked for' }
    } catch (error) {
      reasons.push(`containers: ${(error as Error).message}`)
    }
  }
  if (asked !== 'containers') {
    const missing = programs.filter((name) => findProgram(name) === null)
    if (missing.length === 0) {
      return { backend: 'processes', why: asked === 'auto' ? 'no engine is here' : 'asked for' }
    }
    reasons.push(
      `processes: ${missing.join(' and ')} not found (Debian: apt-get install mosquitto influxdb)`,
    )
  }
  throw new Error(
    `these tests need a real broker and database (TEST_SERVICES=${asked}):\n  ${reasons.join('\n  ')}`,
  )
}
