import type { CropRow } from './crop-row.ts'

export const COVER_CROPS: readonly CropRow[] = [
  {
    slug: 'clover_white',
    name: 'White clover (cover)',
    category: 'cover',
    band: { low: 6, high: 7 },
    published: [
      { source: 'ECOCROP', low: 5.5, high: 7, note: 'species Trifolium repens, data sheet 2105' },
    ],
    groups: [],
    disagreement: 0,
    roots: null,
  },
  {
    slug: 'buckwheat',
    name: 'Buckwheat (cover)',
    category: 'cover',
    band: { low: 5.5, high: 6.8 },
    published: [
      {
        source: 'ECOCROP',
        low: 5,
        high: 6.5,
        note: 'species Fagopyrum esculentum, data sheet 2285',
      },
    ],
    groups: [],
    disagreement: 0,
    roots: null,
  },
]
