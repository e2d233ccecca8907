import type * as testcontainers from 'testcontainers'

type Library = typeof testcontainers

export interface ContainerEngine {
  readonly library: Library
  readonly client: Awaited<ReturnType<Library['getContainerRuntimeClient']>>
}

let found: Promise<ContainerEngine> | undefined

/** The container engine this machine has; rejects, saying so, when there is none. */
export function containerEngine(): Promise<ContainerEngine> {
  found ??= find()
  return found
}

async function find(): Promise<ContainerEngine> {
  // Inside a container the library would look for published ports at the bridge's address.
  process.env['TESTCONTAINERS_HOST_OVERRIDE'] ??= '127.0.0.1'
  const library = await import('testcontainers')
  return { library, client: await library.getContainerRuntimeClient() }
}
