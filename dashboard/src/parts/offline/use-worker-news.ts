import { useEffect, useState } from 'preact/hooks'
import { onWorkerNews, workerNews } from '../../worker-news.ts'

/** What the worker does for this page; follows it. */
export function useWorkerNews(): ReturnType<typeof workerNews> {
  const [news, setNews] = useState(workerNews)
  useEffect(() => {
    const follow = (): void => setNews(workerNews())
    follow()
    return onWorkerNews(follow)
  }, [])
  return news
}
