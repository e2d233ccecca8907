const LONGEST = 300
/** First match wins: most say they are others, too. */
const BROWSERS = [
  [/\bFirefox\/|\bFxiOS\//, 'Firefox'],
  [/\bEdgA?\/|\bEdgiOS\//, 'Edge'],
  [/\bOPR\//, 'Opera'],
  [/\bChrome\/|\bChromium\/|\bCriOS\/|\bHeadlessChrome\//, 'Chrome'],
  [/\bSafari\//, 'Safari'],
] as const
const SYSTEMS = [
  [/\bAndroid\b/, 'Android'],
  [/\biPad\b/, 'iPad'],
  [/\biPhone\b/, 'iPhone'],
  [/\bCrOS\b/, 'ChromeOS'],
  [/\bWindows\b/, 'Windows'],
  [/\bMac OS X\b/, 'macOS'],
  [/\bLinux\b/, 'Linux'],
] as const

const firstOf = (rows: readonly (readonly [RegExp, string])[], text: string): string | undefined =>
  rows.find(([pattern]) => pattern.test(text))?.[1]

/**
 * A browser by what it says of itself (User-Agent, RFC 9110 10.1.5), such as 'Firefox, Linux'; the text itself, without
 * control characters, where it says nothing known; '' where it says nothing.
 */
export function deviceOf(userAgent: string | undefined): string {
  const text = (userAgent ?? '').slice(0, LONGEST)
  const known = [firstOf(BROWSERS, text), firstOf(SYSTEMS, text)].filter(
    (part) => part !== undefined,
  )
  return known.length > 0 ? known.join(', ') : text.replace(/\p{C}/gu, '').slice(0, 60)
}
