import { existsSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'

/*
 * What can be known of the packages without asking anybody: that what is installed is what was chosen, byte for byte, and
 * that none runs anything by itself. Known weaknesses are asked for with 'npm audit', which needs the registry.
 */

interface Locked {
  readonly version?: string
  readonly resolved?: string
  readonly integrity?: string
  readonly link?: boolean
  readonly dev?: boolean
  readonly devOptional?: boolean
  readonly optional?: boolean
  readonly hasInstallScript?: boolean
  readonly deprecated?: string
  readonly dependencies?: Record<string, string>
  readonly devDependencies?: Record<string, string>
  readonly optionalDependencies?: Record<string, string>
}
interface Lock {
  readonly lockfileVersion: number
  readonly packages: Record<string, Locked>
}
type Manifest = Required<
  Pick<Locked, 'dependencies' | 'devDependencies' | 'optionalDependencies'>
> & { readonly scripts: Record<string, string> }

const read = <T>(path: string): T => JSON.parse(readFileSync(path, 'utf8')) as T
const lock = read<Lock>('package-lock.json')
const manifest = read<Manifest>('package.json')
const locked = Object.entries(lock.packages).filter(([path]) => path !== '')
const REGISTRY = 'https://registry.npmjs.org/'

/** Come with a script for their installation, which nothing here needs: the continuous tests install without any. */
const WITH_SCRIPT: Readonly<Record<string, string>> = {
  'node_modules/cpu-features': 'builds a faster way to ask for the processor, for ssh2 only',
  'node_modules/ssh2': 'tries to build the above; containers are reached by their socket',
  'node_modules/protobufjs': 'looks at version ranges and prints a hint',
}

test('every package has a SHA-512 of 64 bytes, so that nobody can slip another one in', () => {
  expect(lock.lockfileVersion).toBe(3)
  expect(locked.length).toBeGreaterThan(200)
  const without = locked
    .filter(([, { integrity }]) => {
      const digest = /^sha512-([A-Za-z0-9+/]{86}==)$/.exec(integrity ?? '')?.[1]
      return digest === undefined || Buffer.from(digest, 'base64').length !== 64
    })
    .map(([path]) => path)
  expect(without).toEqual([])
})

test('every package comes from the registry, none from another address, a folder or a repository', () => {
  const foreign = locked
    .filter(
      ([, { resolved, link, version }]) =>
        link === true ||
        (resolved !== undefined && !resolved.startsWith(REGISTRY)) ||
        !/^\d+\.\d+\.\d+(-[\w.]+)?(\+[\w.]+)?$/.test(version ?? ''),
    )
    .map(([path]) => path)
  expect(foreign).toEqual([])
  const asked = locked.flatMap(([path, { dependencies = {}, optionalDependencies = {} }]) =>
    Object.entries({ ...dependencies, ...optionalDependencies })
      .filter(([, range]) => /^(git|github|file|https?|link)[:+]|^[\w.-]+\/[\w.-]+$/.test(range))
      .map(([name, range]) => `${path} -> ${name} ${range}`),
  )
  expect(asked).toEqual([])
})

test('what the project names is an exact version, the one in the lock file', () => {
  const { dependencies, devDependencies, optionalDependencies } = manifest
  const root = lock.packages['']!
  expect(root.dependencies).toEqual(dependencies)
  expect(root.devDependencies).toEqual(devDependencies)
  expect(root.optionalDependencies).toEqual(optionalDependencies)
  const all = { ...dependencies, ...devDependencies, ...optionalDependencies }
  for (const [name, version] of Object.entries(all)) {
    expect(version, name).toMatch(/^\d+\.\d+\.\d+$/)
    expect(lock.packages[`node_modules/${name}`]?.version, name).toBe(version)
  }
})

test('what is installed is what is locked', () => {
  const installed = read<Lock>('node_modules/.package-lock.json').packages
  const strays: string[] = []
  for (const [path, { version, integrity }] of Object.entries(installed)) {
    const wanted = lock.packages[path]
    if (wanted === undefined) strays.push(`${path} is not in the lock file`)
    else if (wanted.integrity !== integrity || wanted.version !== version)
      strays.push(`${path}: locked ${wanted.version}, installed ${version}`)
    else if (read<{ version: string }>(`${path}/package.json`).version !== version)
      strays.push(`${path}: another version lies there than npm thinks`)
  }
  expect(strays).toEqual([])
  const missing = locked
    .filter(([path, { optional, devOptional }]) => {
      // What is only for another platform need not be here.
      return optional !== true && devOptional !== true && !existsSync(path)
    })
    .map(([path]) => path)
  expect(missing).toEqual([])
})

test('no package needs a script to be installed, and none that runs in the hub has one', () => {
  const scripts = locked.filter(([, { hasInstallScript }]) => hasInstallScript === true)
  expect(scripts.map(([path]) => path).toSorted()).toEqual(Object.keys(WITH_SCRIPT).toSorted())
  for (const [path, { dev, devOptional }] of scripts)
    expect(dev === true || devOptional === true, `${path} is only for tests`).toBe(true)
  expect(readFileSync('.ci/run', 'utf8')).toMatch(/^npm ci .*--ignore-scripts$/m)
  const own = Object.keys(manifest.scripts)
  expect(own.filter((name) => /^(pre|post)?(install|prepare|publish)$/.test(name))).toEqual([])
})

test('nothing that runs in the hub was given up by who made it', () => {
  const given = locked
    .filter(([, { deprecated, dev }]) => deprecated !== undefined && dev !== true)
    .map(([path, { deprecated }]) => `${path}: ${deprecated}`)
  expect(given).toEqual([])
})
