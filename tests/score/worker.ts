import { parentPort } from 'node:worker_threads'
import { type Job, runJob } from './jobs.ts'

if (parentPort === null) throw new Error('worker.ts runs in a worker thread only')
const port = parentPort
port.on('message', (jobs: readonly Job[]) => {
  port.postMessage(jobs.map((job) => runJob(job)))
})
