import { existsSync } from 'node:fs'
import type { Server } from 'node:https'
import { extname } from 'node:path'
import rateLimit from '@fastify/rate-limit'
import fastifyStatic from '@fastify/static'
import swagger from '@fastify/swagger'
import fastify, {
  type FastifyHttpsOptions,
  type FastifyInstance,
  type FastifyServerOptions,
} from 'fastify'
import {
  jsonSchemaTransform,
  jsonSchemaTransformObject,
  serializerCompiler,
  validatorCompiler,
  type ZodTypeProvider,
} from 'fastify-type-provider-zod'
import { limitConnections } from './connection-limits.ts'
import type { ApiDeps } from './deps.ts'
import { HubError } from '../errors.ts'
import type { LiveCertificate } from '../model/certificate.ts'
import { MINUTE, SECOND } from '../model/clock.ts'
import { inManner } from '../words/say.ts'
import { holdBack, installGuard } from './guard.ts'
import { methodsOf } from './methods.ts'
import { createRequestLimits, type RequestLimitsOptions } from './request-limits.ts'
import { installSlowRequests, type SlowRequestOptions } from './slow-requests.ts'
import {
  ApiProblem,
  installProblems,
  notFound,
  refusalBytes,
  sendProblem,
  toProblem,
} from './problem.ts'
import { completeDocument } from './open-api/complete.ts'
import type { Document } from './open-api/document.ts'
import { alarmRoutes } from './routes/alarms.ts'
import { backupRoutes } from './routes/backup.ts'
import { bedRoutes } from './routes/beds.ts'
import { calendarRoutes } from './routes/calendar.ts'
import { calibratingRoutes } from './routes/calibrating.ts'
import { damagedRoutes } from './routes/damaged.ts'
import { diaryRoutes } from './routes/diary.ts'
import { exportRoutes } from './routes/exports.ts'
import { feedRoutes } from './routes/feed.ts'
import { gardenRoutes } from './routes/garden.ts'
import { healthRoutes } from './routes/health.ts'
import { importRoutes } from './routes/imports.ts'
import { keyRoutes } from './routes/keys.ts'
import { jobRoutes } from './routes/jobs.ts'
import { journalRoutes } from './routes/journal.ts'
import { messageRoutes } from './routes/messages.ts'
import { measuringRoutes } from './routes/measuring.ts'
import { passwordRoutes } from './routes/passwords.ts'
import { peopleRoutes } from './routes/people.ts'
import { photoRoutes } from './routes/photos.ts'
import { orderRoutes } from './routes/orders.ts'
import { planRoutes } from './routes/plans.ts'
import { probeRoutes } from './routes/probes.ts'
import { metricsRoutes } from './routes/metrics.ts'
import { reviewRoutes } from './routes/review.ts'
import { sensorThingsRoutes } from './routes/sensorthings.ts'
import { sharedRoutes } from './routes/shared.ts'
import { signInRoutes } from './routes/sign-in.ts'
import { soilRoutes } from './routes/soil.ts'
import { storageRoutes } from './routes/storage.ts'
import { trialRoutes } from './routes/trials.ts'
import { whileLetIn } from './who.ts'

/** A form is small; anything larger is a mistake or an attack. */
const MAX_BODY_BYTES = 256 * 1024
/** A head that is not here by then holds a connection for nothing. */
const HEAD_TIMEOUT_MS = 15 * SECOND
/** The largest file on a slow line; bodies that trickle are ended long before, see slow-requests.ts. */
const REQUEST_TIMEOUT_MS = 15 * MINUTE
/** How often Node looks for such. */
const LOOK_EVERY_MS = 5 * SECOND

export interface ServerOptions {
  /** Folder of the built dashboard; null serves the API alone. */
  readonly dashboardDir: string | null
  readonly log: (level: 'error' | 'warn' | 'info', message: string) => void
  /** With it the server speaks HTTPS alone. @default HTTP */
  readonly certificate?: LiveCertificate
  /** How often one may ask. @default see there */
  readonly limits?: RequestLimitsOptions
  /** How slow a request may be. @default see there */
  readonly slow?: SlowRequestOptions & { readonly headMs?: number; readonly lookEveryMs?: number }
}

/** HTTP or HTTPS, with what both have in common. */
function bare(options: ServerOptions, settings: FastifyServerOptions): FastifyInstance {
  const { certificate, slow = {} } = options
  const limits = {
    headersTimeout: slow.headMs ?? HEAD_TIMEOUT_MS,
    connectionsCheckingInterval: slow.lookEveryMs ?? LOOK_EVERY_MS,
  }
  if (certificate === undefined) return fastify({ ...settings, http: limits })
  const minVersion = 'TLSv1.2'
  const https = {
    ...limits,
    ...certificate.now(),
    minVersion,
    handshakeTimeout: HEAD_TIMEOUT_MS,
  } as const
  const secure = { ...settings, https } as unknown as FastifyHttpsOptions<Server>
  const app = fastify(secure) as unknown as FastifyInstance
  const server = app.server as unknown as Server
  const off = certificate.onRenewed((pair) => server.setSecureContext({ ...pair, minVersion }))
  server.on('close', off)
  let told = false
  server.on('tlsClientError', ({ code }: NodeJS.ErrnoException) => {
    if (told || code !== 'ERR_SSL_HTTP_REQUEST') return
    told = true
    options.log('info', 'a browser asked without encryption: the address begins with https://')
  })
  return app
}

/** The HTTP side: /api and the dashboard. Not listening yet. */
export async function createServer(
  deps: ApiDeps,
  options: ServerOptions,
): Promise<FastifyInstance> {
  const app = bare(options, {
    bodyLimit: MAX_BODY_BYTES,
    requestTimeout: REQUEST_TIMEOUT_MS,
    forceCloseConnections: true,
    // An address that cannot be decoded never reaches a route.
    frameworkErrors(error, request, reply) {
      holdBack(request, reply, deps.http.hstsS)
      void sendProblem(error, request, reply)
    },
    clientErrorHandler: (error, socket) => {
      if (socket.writable) socket.end(refusalBytes(error.code))
      else socket.destroy()
    },
  })
  limitConnections(app.server)
  const allowed = methodsOf(app)
  app.setValidatorCompiler(validatorCompiler)
  app.setSerializerCompiler(serializerCompiler)
  installProblems(app)
  app.addHook('onError', async (request, _reply, error) => {
    // By its pattern: addresses of shared beds and feeds hold a secret, which no log may keep.
    const asked = `${request.method} ${request.routeOptions.url ?? 'no such address'}`
    if (error instanceof HubError) options.log('warn', `${asked}: ${error.message}`)
    else if (toProblem(error, request).status >= 500) {
      options.log('error', `${asked}: ${error.stack ?? error.message}`)
    }
  })
  app.addHook('onRequest', (_request, _reply, done) => {
    inManner(deps.manner.now(), done)
  })
  await app.register(rateLimit, { global: false })
  installGuard(app, deps, createRequestLimits(app, options.limits))
  installSlowRequests(
    app,
    ({ raw: { socket } }) => {
      // Requests without a connection (of tests) have nothing to be ended.
      if (socket.writable) socket.end(refusalBytes('ERR_HTTP_REQUEST_TIMEOUT'))
      if (socket.readyState !== undefined) socket.destroySoon()
    },
    options.slow,
  )

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
      // Taken before anything is read: a page that listens from here on misses nothing of what it was answered.
      api.addHook('onRequest', (request, reply, done) => {
        if (request.method === 'GET') void reply.header('loamline-live', deps.live.here())
        done()
      })
      await typed.register(healthRoutes(deps))
      await typed.register(signInRoutes(deps))
      await typed.register(peopleRoutes(deps))
      await typed.register(keyRoutes(deps))
      await typed.register(sharedRoutes(deps))
      await typed.register(gardenRoutes(deps))
      await typed.register(bedRoutes(deps))
      await typed.register(journalRoutes(deps))
      await typed.register(diaryRoutes(deps))
      await typed.register(probeRoutes(deps))
      await typed.register(passwordRoutes(deps))
      await typed.register(orderRoutes(deps))
      await typed.register(calibratingRoutes(deps))
      await typed.register(measuringRoutes(deps))
      await typed.register(trialRoutes(deps))
      await typed.register(soilRoutes(deps))
      await typed.register(planRoutes(deps))
      await typed.register(photoRoutes(deps))
      await typed.register(reviewRoutes(deps))
      await typed.register(calendarRoutes(deps))
      await typed.register(alarmRoutes(deps))
      await typed.register(messageRoutes(deps))
      await typed.register(feedRoutes(deps))
      await typed.register(exportRoutes(deps))
      await typed.register(importRoutes(deps))
      await typed.register(backupRoutes(deps))
      await typed.register(jobRoutes(deps))
      await typed.register(storageRoutes(deps))
      await typed.register(damagedRoutes(deps))
      api.get(
        '/live',
        {
          schema: {
            summary: 'Server-sent events: what changes, as it changes',
            description:
              'Every event has an id. Send the last one heard as Last-Event-ID, or as ?after=, to be told what was ' +
              'missed, each event once. When that can no longer be told the first event is `reset`: fetch afresh. ' +
              '`beat` says every ten seconds that the hub is there.',
          },
          // Fastify would run the same handler for HEAD, and a stream never ends.
          exposeHeadRoute: false,
        },
        (request, reply) => {
          const { after } = request.query as { after?: unknown }
          const heard = request.headers['last-event-id'] ?? after
          holdBack(request, reply, deps.http.hstsS)
          for (const [name, value] of Object.entries(reply.getHeaders())) {
            if (value !== undefined) reply.raw.setHeader(name, value)
          }
          reply.hijack()
          deps.live.attach(reply.raw, typeof heard === 'string' && heard !== '' ? heard : null)
          const { raw } = reply
          raw.on(
            'close',
            whileLetIn(request, deps.accounts, () => raw.end()),
          )
        },
      )
      let document: Document | undefined
      api.get('/openapi.json', { schema: { hide: true } }, async () => {
        document ??= completeDocument(app.swagger() as unknown as Document)
        return document
      })
      api.all('/*', { schema: { hide: true } }, async (request, reply) => {
        const methods = allowed(request.url)
        if (methods.length === 0) throw notFound('address in this API')
        void reply.header('allow', methods.join(', '))
        if (request.method === 'OPTIONS') return reply.code(204).send()
        throw new ApiProblem(405, `expected ${methods.join(' or ')}, got ${request.method}`)
      })
    },
    { prefix: '/api' },
  )

  await app.register(sensorThingsRoutes(deps))
  await app.register(metricsRoutes(deps))

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
      // Addresses of pages belong to the dashboard's own router; a file that is not there is not a page.
      const isPage = extname(request.url.split('?', 1)[0] ?? '') === ''
      if (request.method === 'GET' && isPage && !request.url.startsWith('/api')) {
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
