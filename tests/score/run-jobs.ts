import { Worker } from 'node:worker_threads'
import { type Job, type JobResult, runJob } from './jobs.ts'

/** So many jobs are handed to a thread at once. */
const AT_ONCE = 4

/**
 * Runs all jobs; results come in the order of the jobs, however many threads share them.
 *
 * @param threads 0: in this thread
 * @param onDone told after each handful, with how many are done
 */
export async function runJobs(
  jobs: readonly Job[],
  threads: number,
  onDone: (done: number) => void = () => {},
): Promise<readonly JobResult[]> {
  if (threads === 0) return jobs.map((job) => runJob(job))
  const results: JobResult[] = []
  let next = 0
  let done = 0
  const drain = async (): Promise<void> => {
    const worker = new Worker(new URL('worker.ts', import.meta.url))
    try {
      while (next < jobs.length) {
        const first = next
        const mine = jobs.slice(first, (next += AT_ONCE))
        const answer = await ask(worker, mine)
        for (const [i, result] of answer.entries()) results[first + i] = result
        done += mine.length
        onDone(done)
      }
    } finally {
      await worker.terminate()
    }
  }
  await Promise.all(Array.from({ length: Math.min(threads, jobs.length) }, drain))
  return results
}

function ask(worker: Worker, jobs: readonly Job[]): Promise<readonly JobResult[]> {
  const { promise, resolve, reject } = Promise.withResolvers<readonly JobResult[]>()
  worker.once('message', resolve)
  worker.once('error', reject)
  worker.postMessage(jobs)
  return promise.finally(() => {
    worker.off('message', resolve)
    worker.off('error', reject)
  })
}
