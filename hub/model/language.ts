/** Languages the hub and its pages speak; codes of ISO 639-1. */
export const LANGUAGES = ['en', 'de', 'es'] as const
export type Language = (typeof LANGUAGES)[number]
