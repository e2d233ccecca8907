// Plain JavaScript on purpose: a thread that begins here finds what was made of its TypeScript the last time, and does
// without the compiler, which takes some 12 MB of every thread that loads it.
import { enableCompileCache, flushCompileCache } from 'node:module'
import { workerData } from 'node:worker_threads'

enableCompileCache()
// oxlint-disable-next-line typescript/no-unsafe-member-access -- startRemote says it
await import(workerData.entry)
flushCompileCache()
