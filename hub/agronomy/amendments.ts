import { said, say } from '../words/say.ts'
import { sourceById } from './sources.ts'

/** Which way a material moves the pH of soil. */
export type AmendmentDirection = 'raises' | 'lowers' | 'none' | 'unclear'

/** A span that a publication gives, days. */
export interface PublishedSpan {
  readonly low: number
  readonly high: number
  /** Id of the publication. */
  readonly source: string
}

/** A material that is put on beds, and what is known of its way with pH. Never how much of it to use. */
export interface Amendment {
  readonly slug: string
  /** In the language spoken. */
  readonly name: string
  /** Its name as the hub writes it in a journal, English. */
  readonly word: string
  readonly direction: AmendmentDirection
  /** From putting it on until the pH has moved as far as it will; null where no publication was seen. */
  readonly peak: PublishedSpan | null
  /** From putting it on until the pH was seen to go back; null where no publication was seen. */
  readonly holds: PublishedSpan | null
  /** What it does, in a sentence. */
  readonly note: string
  /** What can hurt; null where nothing is known. */
  readonly caution: string | null
  /** Ids of the publications behind direction and note. */
  readonly sources: readonly string[]
  /** How gardeners call it in every language of the hub, lower case, without accents, 'sulf' for 'sulph'. */
  readonly aliases: readonly string[]
}

const LABEL = 'Go by the product label and your local extension service.'
const DUST = `Lime dust hurts eyes and lungs: mask, glasses, still weather. ${LABEL}`

/** The table in English; a text is said where it is read. */
export const AMENDMENT_ROWS: readonly Omit<Amendment, 'word'>[] = [
  {
    slug: 'ground-limestone',
    name: 'ground limestone',
    direction: 'raises',
    // Field plots: fine pure carbonate 86 days, agricultural limestone 136 days.
    peak: { low: 86, high: 136, source: 'PAGANI2012' },
    // Two field experiments: after a year where little was put on, after 3 and 6 where much was.
    holds: { low: 365, high: 2190, source: 'BOLTON1977' },
    note: 'Raises pH slowly, over months; the finer the grain, the sooner.',
    caution: DUST,
    sources: ['UNL_CCE', 'PAGANI2012', 'BOLTON1977', 'BURBRINK', 'CLEM_FALL'],
    aliases: [
      'lime',
      'limestone',
      'ground limestone',
      'garden lime',
      'agricultural lime',
      'aglime',
      'pelleted lime',
      'calcitic lime',
      'calcitic limestone',
      'chalk',
      'calcium carbonate',
      'caco3',
      'kalk',
      'kohlensaurer kalk',
      'kalksteinmehl',
      'gartenkalk',
      'kreide',
      'cal',
      'cal agricola',
      'caliza',
      'caliza molida',
      'carbonato de calcio',
    ],
  },
  {
    slug: 'dolomitic-limestone',
    name: 'dolomitic limestone',
    direction: 'raises',
    peak: { low: 129, high: 129, source: 'PAGANI2012' },
    holds: null,
    note: 'Raises pH slowly, over months, and adds magnesium.',
    caution: DUST,
    sources: ['FERT_ACID', 'UNL_CCE', 'PAGANI2012'],
    aliases: [
      'dolomite',
      'dolomite lime',
      'dolomite limestone',
      'dolomitic lime',
      'dolomitic limestone',
      'magnesian lime',
      'magnesian limestone',
      'magnesium limestone',
      'dolomitkalk',
      'dolomit',
      'dolomita',
      'cal dolomitica',
      'caliza dolomitica',
    ],
  },
  {
    slug: 'hydrated-lime',
    name: 'hydrated lime',
    direction: 'raises',
    peak: null,
    holds: null,
    note: 'Raises pH fast and overshoots easily; not advised for gardens.',
    caution: `Caustic: burns skin, eyes and lungs. Extension services advise against it in a garden. ${LABEL}`,
    sources: ['UNL_CCE', 'OSU_HYDLIME', 'OSHA_CAOH2'],
    aliases: [
      'hydrated lime',
      'slaked lime',
      'burnt lime',
      'builders lime',
      'quicklime',
      'quick lime',
      'calcium hydroxide',
      'loschkalk',
      'kalkhydrat',
      'branntkalk',
      'cal apagada',
      'cal hidratada',
      'cal viva',
    ],
  },
  {
    slug: 'wood-ash',
    name: 'wood ash',
    direction: 'raises',
    peak: null,
    holds: null,
    note: 'Raises pH, faster than limestone; how strongly differs from ash to ash.',
    caution: `Caustic when wet: gloves, glasses, mask. Only ash of clean wood. ${LABEL}`,
    sources: ['ASH1991', 'UNH_ASH', 'ASH_ASK'],
    aliases: [
      'wood ash',
      'wood ashes',
      'ash',
      'ashes',
      'fireplace ash',
      'stove ash',
      'holzasche',
      'kaminasche',
      'ceniza',
      'cenizas',
      'ceniza de madera',
    ],
  },
  {
    slug: 'sulfur',
    name: 'elemental sulfur',
    direction: 'lowers',
    peak: { low: 90, high: 180, source: 'PUR_AKERS' },
    // Wild blueberry fields: begins to rise again after 5 to 6 years.
    holds: { low: 1825, high: 2190, source: 'UME254' },
    note: 'Lowers pH slowly: soil life has to turn it into acid, which needs warmth and moisture.',
    caution: `Irritates eyes, skin and lungs; not on waterlogged ground. ${LABEL}`,
    sources: ['CLEM_ACID', 'AGRO_S', 'PUR_AKERS', 'UME254', 'RHS_ACID'],
    aliases: [
      'sulfur',
      'elemental sulfur',
      'flowers of sulfur',
      'sulfur chips',
      'sulfur powder',
      'schwefel',
      'elementarschwefel',
      'azufre',
      'azufre elemental',
    ],
  },
  {
    slug: 'iron-sulfate',
    name: 'iron sulfate',
    direction: 'lowers',
    peak: null,
    holds: null,
    note: 'Lowers pH within weeks, more weakly than sulfur.',
    caution: `Harmful if swallowed, burns roots and leaves when there is too much of it. ${LABEL}`,
    sources: ['RHS_ACID', 'ILL_ALUM'],
    aliases: [
      'iron sulfate',
      'ferrous sulfate',
      'iron ii sulfate',
      'feso4',
      'sulfate of iron',
      'eisensulfat',
      'eisen ii sulfat',
      'sulfato de hierro',
      'sulfato ferroso',
    ],
  },
  {
    slug: 'aluminum-sulfate',
    name: 'aluminum sulfate',
    direction: 'lowers',
    peak: null,
    holds: null,
    note: 'Lowers pH at once.',
    caution: `Aluminum poisons roots; extension services keep it to hydrangeas. ${LABEL}`,
    sources: ['ILL_ALUM', 'PUR_AKERS'],
    aliases: [
      'aluminum sulfate',
      'aluminium sulfate',
      'alum',
      'aluminiumsulfat',
      'sulfato de aluminio',
    ],
  },
  {
    slug: 'ammonium-sulfate',
    name: 'ammonium sulfate',
    direction: 'lowers',
    peak: null,
    holds: null,
    note: 'A nitrogen fertiliser that lowers pH on the side, over months.',
    caution: `Burns roots when there is too much of it; never together with lime or ash. ${LABEL}`,
    sources: ['FERT_ACID'],
    aliases: [
      'ammonium sulfate',
      'sulfate of ammonia',
      'ammonia sulfate',
      'ammoniumsulfat',
      'schwefelsaures ammoniak',
      'sulfato de amonio',
      'sulfato amonico',
    ],
  },
  {
    slug: 'peat',
    name: 'peat',
    direction: 'lowers',
    peak: null,
    holds: null,
    note: 'Acid itself; lowers pH only where there is a lot of it.',
    caution: null,
    sources: ['AGRO_S'],
    aliases: [
      'peat',
      'peat moss',
      'sphagnum peat',
      'sphagnum',
      'ericaceous compost',
      'torf',
      'hochmoortorf',
      'turba',
    ],
  },
  {
    slug: 'compost',
    name: 'compost or manure',
    direction: 'unclear',
    peak: null,
    holds: null,
    note: 'May raise pH a little; holds it steadier rather than moving it.',
    caution: null,
    sources: ['EXT_MANURE'],
    aliases: [
      'compost',
      'garden compost',
      'leaf mould',
      'leaf mold',
      'leafmould',
      'manure',
      'kompost',
      'komposterde',
      'laubkompost',
      'mist',
      'stallmist',
      'pferdemist',
      'estiercol',
      'mantillo',
    ],
  },
  {
    slug: 'gypsum',
    name: 'gypsum',
    direction: 'none',
    peak: null,
    holds: null,
    note: 'Adds calcium and sulfur; does not move pH.',
    caution: null,
    sources: ['GYP_WSU', 'FERT_ACID'],
    aliases: [
      'gypsum',
      'calcium sulfate',
      'land plaster',
      'gips',
      'kalziumsulfat',
      'yeso',
      'sulfato de calcio',
    ],
  },
  {
    slug: 'coffee-grounds',
    name: 'used coffee grounds',
    direction: 'none',
    peak: null,
    holds: null,
    note: 'Close to neutral once used; trials found no acid effect, but poorer growth where fresh.',
    caution: null,
    sources: ['COFFEE_OSU', 'COFFEE_MELB'],
    aliases: [
      'coffee grounds',
      'coffee ground',
      'coffee grinds',
      'used coffee',
      'coffee',
      'kaffeesatz',
      'posos de cafe',
      'cafe molido usado',
    ],
  },
  {
    slug: 'pine-needles',
    name: 'pine needles',
    direction: 'none',
    peak: null,
    holds: null,
    note: 'Acid while fresh; the soil under the mulch does not turn acid.',
    caution: null,
    sources: ['PINE_OSU', 'PINE_UW'],
    aliases: [
      'pine needles',
      'pine needle',
      'pine straw',
      'conifer needles',
      'conifer mulch',
      'kiefernnadeln',
      'nadelstreu',
      'fichtennadeln',
      'pinaza',
      'agujas de pino',
      'acicula de pino',
    ],
  },
  {
    slug: 'eggshells',
    name: 'eggshells',
    direction: 'unclear',
    peak: null,
    holds: null,
    note: 'Carbonate like limestone, but pieces dissolve hardly at all; powder may raise pH.',
    caution: null,
    sources: ['MEM'],
    aliases: [
      'eggshells',
      'eggshell',
      'egg shells',
      'egg shell',
      'eierschalen',
      'cascara de huevo',
      'cascaras de huevo',
    ],
  },
  {
    slug: 'grit',
    name: 'grit or sand',
    direction: 'none',
    peak: null,
    holds: null,
    note: 'Lime-free grit and sand let water through and leave pH alone.',
    caution: null,
    sources: ['MEM'],
    aliases: [
      'grit',
      'lime free grit',
      'horticultural grit',
      'sand',
      'lime free sand',
      'perlite',
      'kalkfreier splitt',
      'kalkfreier sand',
      'splitt',
      'quarzsand',
      'gravilla',
      'arena',
      'arena sin cal',
      'gravilla sin cal',
    ],
  },
]

export const AMENDMENTS: readonly Amendment[] = AMENDMENT_ROWS.map((row) => ({
  ...row,
  word: row.name,
  get name() {
    return said(row.name)
  },
  get note() {
    return said(row.note)
  },
  get caution() {
    return row.caution === null ? null : said(row.caution)
  },
}))

const bySlug = new Map(AMENDMENTS.map((row) => [row.slug, row]))

/** The row with this slug. A slug that is not in the table is a mistake of ours. */
export function amendmentBySlug(slug: string): Amendment {
  const row = bySlug.get(slug)
  if (row === undefined) throw new Error(`no material '${slug}' in the table of amendments`)
  return row
}

interface Found {
  readonly row: Amendment
  readonly from: number
  readonly to: number
}

/**
 * The row a gardener's words mean, by whole words: 'Garden lime, fine' is ground limestone, 'sublime' is not.
 * A longer name beats a shorter one inside it ('hydrated lime', 'lime-free grit'); in a mixture what moves pH
 * beats what does not ('compost with sulfur'); null for what is not in the table and for mixtures that pull
 * both ways.
 */
export function amendmentOf(material: string): Amendment | null {
  const words = wordsOf(material)
  const found: Found[] = []
  for (const row of AMENDMENTS) {
    for (const alias of row.aliases) {
      const name = alias.split(' ')
      for (let from = 0; from + name.length <= words.length; from++) {
        if (name.every((word, i) => words[from + i] === word)) {
          found.push({ row, from, to: from + name.length })
        }
      }
    }
  }
  const outermost = found
    .filter(
      (one) =>
        !found.some(
          (other) =>
            other.from <= one.from &&
            other.to >= one.to &&
            other.to - other.from > one.to - one.from,
        ),
    )
    .toSorted((a, b) => a.from - b.from || b.to - a.to)
  const movers = outermost.filter(
    ({ row }) => row.direction === 'raises' || row.direction === 'lowers',
  )
  if (movers.some(({ row }) => row.direction !== movers[0]?.row.direction)) return null
  return (movers[0] ?? outermost[0])?.row ?? null
}

/** What the material is known to do, with who says so and what can hurt, for the page. */
export function expectedOf(amendment: Amendment): string {
  const { note, peak, holds, caution, sources } = amendment
  const parts = [note]
  if (peak !== null) {
    const { publisher } = sourceById(peak.source)
    parts.push(
      peak.low === peak.high
        ? say`Farthest after ${peak.low} days (${publisher}).`
        : say`Farthest after ${peak.low} to ${peak.high} days (${publisher}).`,
    )
  }
  if (holds !== null) {
    const [from, to] = [Math.round(holds.low / 365), Math.round(holds.high / 365)]
    parts.push(
      say`Seen to go back after ${from} to ${to} years (${sourceById(holds.source).publisher}).`,
    )
  }
  const named = sources.filter((id) => id !== 'MEM').map((id) => sourceById(id).publisher)
  parts.push(named.length > 0 ? say`After ${named.join('; ')}.` : say`Common practice, no source.`)
  if (caution !== null) parts.push(caution)
  return parts.join(' ')
}

function wordsOf(text: string): readonly string[] {
  const plain = text
    .normalize('NFKD')
    .replaceAll(/[\p{M}'’]/gu, '')
    .toLowerCase()
    .replaceAll('sulph', 'sulf')
  return plain.match(/[\p{L}\p{N}]+/gu) ?? []
}
