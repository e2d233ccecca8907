import type { FastifyInstance } from 'fastify'

/**
 * Collects the routes that are added to a server from now on, and tells the methods an address answers to.
 * Catch-all routes do not count.
 */
export function methodsOf(app: FastifyInstance): (url: string) => readonly string[] {
  const routes: { readonly pattern: RegExp; readonly methods: readonly string[] }[] = []
  app.addHook('onRoute', ({ url, method }) => {
    if (url.includes('*')) return
    const pattern = new RegExp(`^${url.replaceAll('.', '\\.').replaceAll(/:\w+/g, '[^/]+')}$`)
    routes.push({ pattern, methods: typeof method === 'string' ? [method] : method })
  })
  return (url) => {
    const path = url.split('?', 1)[0] ?? ''
    const methods = routes.filter((r) => r.pattern.test(path)).flatMap((r) => r.methods)
    return [...new Set(methods)].toSorted()
  }
}
