import { existsSync } from 'node:fs'
import fastifyStatic from '@fastify/static'
import swagger from '@fastify/swagger'
import fastify, { type FastifyInstance } from 'fastify'
import {
  jsonSchemaTransform,
  jsonSchemaTransformObject,
  serializerCompiler,
  validatorCompiler,
  type ZodTypeProvider,
} from 'fastify-type-provider-zod'
import type { ApiDeps } from './deps.ts'
import { installProblems, notFound, toProblem } from './problem.ts'
import { alarmRoutes } from './routes/alarms.ts'
import { bedRoutes } from './routes/beds.ts'
import { gardenRoutes } from './routes/garden.ts'
import { healthRoutes } from './routes/health.ts'
import { journalRoutes } from './routes/journal.ts'
import { probeRoutes } from './routes/probes.ts'

/** A form is small; anything larger is a mistake or an attack. */
const MAX_BODY_BYTES = 256 * 1024

export interface ServerOptions {
  /** Folder of the built dashboard; null serves the API alone. */
  readonly dashboardDir: string | null
  readonly log: (level: 'error' | 'warn' | 'info', message: string) => void
}

/** The HTTP side: /api and the dashboard. Not listening yet. */
export async function createServer(
  deps: ApiDeps,
  options: ServerOptions,
): Promise<FastifyInstance> {
  const app = fastify({ bodyLimit: MAX_BODY_BYTES, forceCloseConnections: true })
  app.setValidatorCompiler(validatorCompiler)
  app.setSerializerCompiler(serializerCompiler)
  installProblems(app)
  app.addHook('onError', async (request, _reply, error) => {
    if (toProblem(error).status >= 500) {
      options.log('error', `${request.method} ${request.url}: ${error.stack ?? error.message}`)
    }
  })
  app.addHook('onSend', async (request, reply) => {
    void reply.header('x-content-type-options', 'nosniff')
    void reply.header('referrer-policy', 'no-referrer')
    if (!request.url.startsWith('/api')) {
      // Probe-supplied text is shown on these pages: nothing but our own script may run.
      void reply.header(
        'content-security-policy',
        "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'",
      )
    }
  })

  await app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Loamline API',
        version: deps.hub().version,
        description:
          'Beds, probes, readings, journal and alarms of one garden. Times are epoch milliseconds, values SI. ' +
          'Errors are RFC 9457 problem details.',
      },
    },
    transform: jsonSchemaTransform,
    transformObject: jsonSchemaTransformObject,
  })
  await app.register(
    async (api) => {
      const typed = api.withTypeProvider<ZodTypeProvider>()
      await typed.register(healthRoutes(deps))
      await typed.register(gardenRoutes(deps))
      await typed.register(bedRoutes(deps))
      await typed.register(journalRoutes(deps))
      await typed.register(probeRoutes(deps))
      await typed.register(alarmRoutes(deps))
      api.get(
        '/live',
        { schema: { summary: 'Server-sent events: what changes, as it changes' } },
        (_request, reply) => {
          reply.hijack()
          deps.live.attach(reply.raw)
        },
      )
      api.get('/openapi.json', { schema: { hide: true } }, async () => app.swagger())
      api.all('/*', { schema: { hide: true } }, async () => {
        throw notFound('address in this API')
      })
    },
    { prefix: '/api' },
  )

  const dir = options.dashboardDir
  if (dir !== null && existsSync(dir)) {
    await app.register(fastifyStatic, {
      root: dir,
      // File names under assets carry a content hash; the page itself must always be fresh.
      setHeaders: (response, path) => {
        response.header(
          'cache-control',
          path.includes('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache',
        )
      },
    })
    app.setNotFoundHandler(async (request, reply) => {
      // Addresses of pages belong to the dashboard's own router.
      if (request.method === 'GET' && !request.url.startsWith('/api')) {
        return reply.sendFile('index.html')
      }
      throw notFound('address')
    })
  } else {
    app.setNotFoundHandler(async () => {
      throw notFound('address')
    })
  }
  return app
}
