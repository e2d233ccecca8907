/** What can hurt, and what to do about it, in our own words; 'MEM' is common practice without a source. */
export interface Caution {
  readonly text: string
  readonly source: string
}

/** Holds for every dose of anything. */
export const ALWAYS: readonly Caution[] = [
  {
    text: 'Follow the product label and your local extension service where they say otherwise.',
    source: 'MEM',
  },
  {
    text: 'Put on gloves, goggles and a dust mask; choose a still day.',
    source: 'RHS_ACID',
  },
  { text: 'Keep it off leaves, and rinse leaves that caught some.', source: 'CLEM_ACID' },
  { text: 'Water it in well afterwards.', source: 'CLEM_ACID' },
  {
    text: 'Keep children and pets away until it has been watered in and the ground has dried off.',
    source: 'MEM',
  },
  {
    text: 'Store it dry, closed, and apart from food and from other garden chemicals.',
    source: 'MEM',
  },
  {
    text: 'Never mix it with another material, in a bucket or in the bed: some mixtures heat up or give off gas.',
    source: 'MEM',
  },
  {
    text: 'Wash your hands, and rinse what will be eaten before you eat it.',
    source: 'MEM',
  },
]

/** Holds for everything that contains lime. */
export const LIME: readonly Caution[] = [
  {
    text: 'Not together with manure or nitrogen fertiliser: their ammonia would go off as a gas.',
    source: 'MEM',
  },
  { text: 'Lime dust irritates eyes and lungs: do not breathe it in.', source: 'MEM' },
]

/** Holds for what dissolves at once. */
export const SALT: readonly Caution[] = [
  {
    text: 'A soluble salt: too much of it burns roots and leaves, and dry soil makes it worse. Water before and after.',
    source: 'MEM',
  },
]
