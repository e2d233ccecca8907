import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'

/*
 * What can be known of the packages without asking anybody: that what is installed is what was chosen, byte for byte, and
 * that none runs anything by itself. Known weaknesses are asked for with 'npm audit', which needs the registry.
 */

interface Locked {
  /** Only where a package is called otherwise than its folder. */
  readonly name?: string
  readonly inBundle?: boolean
  readonly bundleDependencies?: readonly string[] | boolean
  readonly peerDependencies?: Record<string, string>
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

/** Older versions for those that cannot load the newer, under a name of their own: so asked for by who needs both. */
const OTHER_NAME: Readonly<Record<string, string>> = {
  'node_modules/string-width-cjs': 'string-width',
  'node_modules/strip-ansi-cjs': 'strip-ansi',
  'node_modules/wrap-ansi-cjs': 'wrap-ansi',
}

/** Folders of packages as they lie there, those inside others too. */
function packagesOnDisk(folder = 'node_modules'): string[] {
  if (!existsSync(folder)) return []
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = `${folder}/${entry.name}`
    // Commands, npm's own list, what Vite and others keep for the next time.
    if (entry.name.startsWith('.')) return []
    if (entry.name.startsWith('@')) return packagesOnDisk(path)
    return [path, ...packagesOnDisk(`${path}/node_modules`)]
  })
}

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

test('none goes under the name of another, or comes inside another without a hash of its own', () => {
  const folderName = (path: string): string => path.replace(/^.*node_modules\//, '')
  const nameOf = (path: string): string => lock.packages[path]?.name ?? folderName(path)
  const renamed = locked.filter(([, { name }]) => name !== undefined)
  expect(Object.fromEntries(renamed.map(([path, { name }]) => [path, name]))).toEqual(OTHER_NAME)
  for (const [path, { dev }] of renamed) expect(dev, `${path} is only for tests`).toBe(true)
  const strange = locked.filter(([path, { resolved, version, inBundle, bundleDependencies }]) => {
    const file = `${nameOf(path).replace(/^@[^/]+\//, '')}-${version ?? ''}.tgz`
    return (
      inBundle === true ||
      (bundleDependencies ?? false) !== false ||
      (resolved !== undefined && resolved !== `${REGISTRY}${nameOf(path)}/-/${file}`)
    )
  })
  expect(strange.map(([path]) => path)).toEqual([])
  expect(Object.keys(manifest)).not.toContain('overrides')
  for (const path of packagesOnDisk())
    expect(read<{ name: string }>(`${path}/package.json`).name, path).toBe(nameOf(path))
})

test('what is said to be for tests alone is nothing that the hub, or what it is built with, leads to', () => {
  const { packages } = lock
  const reached = new Set<string>()
  /** Where Node finds a package that one in `from` asks for. */
  function find(from: string, name: string): string | null {
    for (let base = from; ;) {
      const path = `${base === '' ? '' : `${base}/`}node_modules/${name}`
      if (packages[path] !== undefined) return path
      if (base === '') return null
      base = base.slice(0, Math.max(0, base.lastIndexOf('node_modules/') - 1))
    }
  }
  const missing: string[] = []
  function follow(from: string, names: Record<string, string> = {}, needed = false): void {
    for (const name of Object.keys(names)) {
      const path = find(from, name)
      if (path === null && needed) missing.push(`${from} -> ${name}`)
      if (path === null || reached.has(path)) continue
      reached.add(path)
      const { dependencies, optionalDependencies, peerDependencies } = packages[path]!
      follow(path, dependencies, true)
      follow(path, optionalDependencies)
      follow(path, peerDependencies)
    }
  }
  follow('', manifest.dependencies, true)
  follow('', manifest.optionalDependencies)
  expect(missing).toEqual([])
  expect([...reached].filter((path) => packages[path]?.dev === true)).toEqual([])
  const others = locked.filter(
    ([path, { dev, devOptional }]) => dev !== true && devOptional !== true && !reached.has(path),
  )
  expect(others.map(([path]) => path)).toEqual([])
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
  // Nor lies there anything that npm does not know of.
  expect(packagesOnDisk().length).toBeGreaterThan(200)
  expect(packagesOnDisk().filter((path) => lock.packages[path] === undefined)).toEqual([])
})

test('no package needs a script to be installed, and none that runs in the hub has one', () => {
  const scripts = locked.filter(([, { hasInstallScript }]) => hasInstallScript === true)
  expect(scripts.map(([path]) => path).toSorted()).toEqual(Object.keys(WITH_SCRIPT).toSorted())
  for (const [path, { dev, devOptional }] of scripts)
    expect(dev === true || devOptional === true, `${path} is only for tests`).toBe(true)
  // The lock file is believed in this only as far as the packages themselves say the same.
  const doing = packagesOnDisk().filter((path) => {
    const { scripts: own = {} } = read<{ scripts?: Record<string, string> }>(`${path}/package.json`)
    const runs = ['preinstall', 'install', 'postinstall'].some((name) => own[name] !== undefined)
    return runs || existsSync(`${path}/binding.gyp`)
  })
  expect(doing.filter((path) => !(path in WITH_SCRIPT))).toEqual([])
  expect(readFileSync('.ci/run', 'utf8')).toMatch(/^npm ci .*--ignore-scripts$/m)
  for (const file of ['.ci/run', 'hub/Dockerfile'])
    for (const [line] of readFileSync(file, 'utf8').matchAll(
      /npm (ci|install|i|add|prune)\b[^&;\n]*/g,
    ))
      expect(line, file).toContain('--ignore-scripts')
  // Another registry, or scripts all the same.
  expect(['.npmrc', 'hub/.npmrc', 'dashboard/.npmrc'].filter((file) => existsSync(file))).toEqual(
    [],
  )
  const own = Object.keys(manifest.scripts)
  expect(own.filter((name) => /^(pre|post)?(install|prepare|publish)$/.test(name))).toEqual([])
})

test('nothing that runs in the hub was given up by who made it', () => {
  const given = locked
    .filter(([, { deprecated, dev }]) => deprecated !== undefined && dev !== true)
    .map(([path, { deprecated }]) => `${path}: ${deprecated}`)
  expect(given).toEqual([])
})
