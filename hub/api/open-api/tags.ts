/** Groups of the interface in the order in which they are shown, and the addresses in each. */
export const TAGS: readonly {
  readonly name: string
  readonly description: string
  readonly of: RegExp
}[] = [
  {
    name: 'Hub',
    description: 'How the hub is, what it hears, and long work under way.',
    of: /^\/(metrics|api\/(health|quarantine|live|jobs|storage|damaged|openapi\.json))/,
  },
  {
    name: 'Accounts',
    description: 'Who may do what: people, sessions, tokens, share links.',
    of: /^\/api\/(who|sign-in|sign-out|password|owner|people|sessions|tokens|shares|shared|feed-address)\b/,
  },
  {
    name: 'Soil and plans',
    description: 'What a bed needs, with what, how much and when.',
    of: /^\/api\/(beds\/\{id\}\/(soil|soil-tests|decision|plans)|soil-tests|plans|planning-settings)\b/,
  },
  {
    name: 'Journal and calendar',
    description: 'What was done and measured by hand, and what has a day.',
    of: /^\/api\/(beds\/\{id\}\/(journal|photos|measuring)|journal|ahead|calendar\.ics|water-by-weight)\b/,
  },
  {
    name: 'Review and trials',
    description: 'What treatments did, reports over a period, claims put to the test.',
    of: /^\/api\/(beds\/\{id\}\/report|review|report|trials)\b/,
  },
  {
    name: 'Garden and beds',
    description:
      'The garden, its beds and spots, what they read and what was found out about them.',
    of: /^\/api\/(garden|beds|spots|crops|textures|buffers)\b/,
  },
  {
    name: 'Probes',
    description: 'Probes, their channels, calibrations, passwords, and what they are asked for.',
    of: /^\/api\/(probes|calibrations|losses)\b/,
  },
  {
    name: 'Alarms and messages',
    description: 'What wants looking at, and how it reaches the gardener.',
    of: /^\/api\/(alarms|message-routes|messages|push-key)/,
  },
  {
    name: 'Data in and out',
    description: 'Readings and records as files, imports, and a copy of everything.',
    of: /^\/api\/(export|import|backup)/,
  },
  {
    name: 'Open standards',
    description: 'The same readings by OGC SensorThings API 1.1.',
    of: /^\/sta\//,
  },
]
