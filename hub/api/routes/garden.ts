import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { BUFFER_SETS } from '../../agronomy/buffers.ts'
import { CROPS } from '../../agronomy/crops.ts'
import { sourceById } from '../../agronomy/sources.ts'
import { TEXTURE_TABLE } from '../../agronomy/textures.ts'
import { isZone } from '../../model/zone.ts'
import type { ApiDeps } from '../deps.ts'
import { shown } from '../explain.ts'
import { badValue } from '../problem.ts'
import { bufferSet, crop, garden, gardenChange, texture, type Crop } from '../schemas/garden.ts'
import { said, say } from '../../words/say.ts'

const cropView = (c: (typeof CROPS)[number]): Crop => ({
  slug: c.slug,
  name: c.name,
  category: c.category,
  band: c.band,
  basis: c.basis,
  published: c.published.map((p) => ({
    low: p.low,
    high: p.high,
    source: { ...p.source },
    group: p.group,
    note: p.note,
  })),
  disagreement: c.disagreement,
})

/** A source as a person would cite it. */
function sourceWords(id: string): string {
  const { publisher, title, year } = sourceById(id)
  return `${publisher}, ${title}${year === null ? '' : `, ${year}`}`
}

/** The garden record, and the tables a form needs. */
export function gardenRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get('/garden', { schema: { summary: 'The garden', response: { 200: garden } } }, async () =>
      deps.garden.garden(),
    )
    app.put(
      '/garden',
      { schema: { summary: 'Change the garden', body: gardenChange, response: { 200: garden } } },
      async (request) => {
        if (!isZone(request.body.zone)) {
          throw badValue(
            'zone',
            say`expected an IANA time zone such as Europe/Lisbon, got ${shown(request.body.zone)}`,
          )
        }
        const { language = deps.manner.now().language, ...rest } = request.body
        const stored = await deps.garden.setGarden({ ...rest, language })
        deps.manner.set(stored)
        deps.live.send({ event: 'beds', data: {} })
        return stored
      },
    )
    app.get(
      '/crops',
      {
        schema: {
          summary: 'Crops with their pH bands and sources',
          response: { 200: z.array(crop) },
        },
      },
      async () => CROPS.map(cropView),
    )
    app.get(
      '/textures',
      { schema: { summary: 'Soil texture classes', response: { 200: z.array(texture) } } },
      async () => TEXTURE_TABLE.map((t) => ({ ...t, source: sourceWords(t.source) })),
    )
    app.get(
      '/buffers',
      {
        schema: {
          summary: 'pH buffer solutions by temperature',
          response: { 200: z.array(bufferSet) },
        },
      },
      async () =>
        BUFFER_SETS.map((s) => ({
          id: s.id,
          name: said(s.name),
          source: sourceWords(s.source),
          buffers: s.buffers.map((b) => ({
            name: said(b.name),
            points: b.points.map((p) => ({ ...p })),
          })),
        })),
    )
  }
}
