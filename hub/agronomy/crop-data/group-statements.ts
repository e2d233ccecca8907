/** What a source says of a whole group of crops. Weaker than a figure for the crop itself. */
export const GROUP_STATEMENTS = {
  'ISU_MCC 6-7': {
    source: 'ISU_MCC',
    low: 6,
    high: 7,
    note: 'most vegetables, fruits, annuals and perennials',
  },
  'UF1207 5.5-7': { source: 'UF1207', low: 5.5, high: 7, note: 'most vegetables' },
  'CLEM1650 5.8-6.5': { source: 'CLEM1650', low: 5.8, high: 6.5, note: 'vegetables' },
  'UF1234 5.8-7': { source: 'UF1234', low: 5.8, high: 7, note: 'most fruit on mineral soil' },
} as const
export type GroupStatementId = keyof typeof GROUP_STATEMENTS
