import { language, said, say, toSay, units } from './say.ts'

const formats = new Map<string, Intl.DateTimeFormat>()
const MINUS = '\u2212'

/** A number with so many decimals, in the language spoken: '6.40', '6,40'. */
export function fixed(value: number, decimals: number): string {
  return localized(value.toFixed(decimals))
}

/** A number with at most so many decimals: '6.4', '6', '0,25'. */
export function figure(value: number, most: number): string {
  const by = 10 ** most
  return localized(String(Math.round(value * by) / by))
}

/** A share of one as a percentage: '35 %'. */
export function percent(share: number, decimals = 0): string {
  return `${fixed(100 * share, decimals)} %`
}

/** With its sign: '+0.45', '-0.30'. */
export function signed(value: number, decimals: number): string {
  return `${value < 0 ? '' : '+'}${fixed(value, decimals)}`
}

/** Digits written with a point as the language writes them. */
export function localized(digits: string): string {
  return language() === 'en' ? digits : digits.replace('.', ',').replace('-', MINUS)
}

/** 'a', 'a and b', 'a, b and c'. */
export function listed(names: readonly string[]): string {
  const last = names.at(-1)
  if (last === undefined) return ''
  if (names.length === 1) return last
  return `${names.slice(0, -1).join(', ')} ${and(last)} ${last}`
}

function and(next: string): string {
  switch (language()) {
    case 'en':
      return 'and'
    case 'de':
      return 'und'
    case 'es':
      return /^h?[ií](?!e)/i.test(next) ? 'e' : 'y'
  }
}

/** '8 April 2027', 'April 8, 2027', '8. April 2027', '8 de abril de 2027'; the day in the garden's zone. */
export function dayText(at: number, zone: string): string {
  return dayPart(at, zone, 'day month year')
}

/** 'April 2027' */
export function monthText(at: number, zone: string): string {
  return dayPart(at, zone, 'month year')
}

/** '8 April', a day that comes back every year. */
export function monthDayText(of: { readonly month: number; readonly day: number }): string {
  return dayPart(Date.UTC(2024, of.month - 1, of.day), 'UTC', 'day month')
}

/** 'April'; months are counted from 1. */
export function monthName(of: number): string {
  return dayPart(Date.UTC(2024, of - 1, 15), 'UTC', 'month')
}

/** How dates are written here: by the language; in English it goes with the units. */
export function locale(): string {
  switch (language()) {
    case 'en':
      return units() === 'us' ? 'en-US' : 'en-GB'
    case 'de':
      return 'de-DE'
    case 'es':
      return 'es-ES'
  }
}

function dayPart(at: number, zone: string, parts: string): string {
  const key = `${locale()} ${zone} ${parts}`
  let format = formats.get(key)
  if (format === undefined) {
    format = new Intl.DateTimeFormat(locale(), {
      timeZone: zone,
      ...(parts.includes('day') && { day: 'numeric' }),
      month: 'long',
      ...(parts.includes('year') && { year: 'numeric' }),
    })
    formats.set(key, format)
  }
  return format.format(at)
}

/** A length of time, roughly, as what something takes: '40 minutes', '3 hours', '5 days'. */
export function lasting(ms: number): string {
  const { minutes, hours, days } = rough(ms)
  if (minutes < 90) return minutes === 1 ? say`1 minute` : say`${minutes} minutes`
  return hours < 48 ? say`${hours} hours` : daysText(days)
}

/** How long ago something was, roughly: '5 days ago'. */
export function ago(ms: number): string {
  const { minutes, hours, days } = rough(ms)
  if (minutes < 90) return minutes === 1 ? say`1 minute ago` : say`${minutes} minutes ago`
  return hours < 48 ? say`${hours} hours ago` : say`${days} days ago`
}

function rough(ms: number): Readonly<Record<'minutes' | 'hours' | 'days', number>> {
  const minutes = Math.max(1, Math.round(ms / 60_000))
  const hours = Math.round(minutes / 60)
  return { minutes, hours, days: Math.round(hours / 24) }
}

/** '1 day', '12 days' */
export function daysText(days: number): string {
  return days === 1 ? say`1 day` : say`${days} days`
}

const COUNTED = {
  bed: [toSay('1 bed'), toSay('{0} beds')],
  calibration: [toSay('1 calibration'), toSay('{0} calibrations')],
  course: [toSay('1 course'), toSay('{0} courses')],
  day: [toSay('1 day'), toSay('{0} days')],
  electrode: [toSay('1 electrode'), toSay('{0} electrodes')],
  jump: [toSay('1 jump'), toSay('{0} jumps')],
  'more spot': [toSay('1 more spot'), toSay('{0} more spots')],
  'other probe': [toSay('1 other probe'), toSay('{0} other probes')],
  portion: [toSay('1 portion'), toSay('{0} portions')],
  reading: [toSay('1 reading'), toSay('{0} readings')],
  sample: [toSay('1 sample'), toSay('{0} samples')],
  soaking: [toSay('1 soaking'), toSay('{0} soakings')],
  spot: [toSay('1 spot'), toSay('{0} spots')],
  'treated bed': [toSay('1 treated bed'), toSay('{0} treated beds')],
  treatment: [toSay('1 treatment'), toSay('{0} treatments')],
  'valid day': [toSay('1 valid day'), toSay('{0} valid days')],
  visit: [toSay('1 visit'), toSay('{0} visits')],
  week: [toSay('1 week'), toSay('{0} weeks')],
  'weekly value': [toSay('1 weekly value'), toSay('{0} weekly values')],
} as const

/** So many of something: '1 spot', '4 spots'. */
export function counted(n: number, noun: keyof typeof COUNTED): string {
  const [one, many] = COUNTED[noun]
  return n === 1 ? said(one) : said(many).replace('{0}', String(n))
}
