// Plain JavaScript on purpose: an old Node must get this far to say what is wrong.
import module from 'node:module'

const [major, minor] = process.versions.node.split('.').map(Number)
if (major < 26 || (major === 26 && minor < 10)) {
  console.error(
    `Loamline needs Node.js 26.10 or newer, this is ${process.versions.node}. ` +
      "Start it through npm ('npm start', 'npm run demo'): 'npm ci' brings the right one along.",
  )
  process.exit(2)
}
module.enableCompileCache()
const { main } = await import('./main.ts')
await main(process.argv.slice(2))
