import { setTimeout as wait } from 'node:timers/promises'
import { expect, test } from 'vitest'
import { inLanguage, language, said, say, sourceOf } from '#hub/words/say.ts'

test('a text is English where nobody chose a language', () => {
  expect(language()).toBe('en')
  expect(say`pH ${6.4} in ${'Quince bed'}`).toBe('pH 6.4 in Quince bed')
})

test('holes are numbered in the order they are written', () => {
  expect(sourceOf(['', ' to ', ', most likely ', ''])).toBe('{0} to {1}, most likely {2}')
})

test('what is waited for goes on in the language it began in', async () => {
  const heard = await Promise.all(
    (['de', 'es', 'en'] as const).map((chosen) =>
      inLanguage(chosen, async () => {
        await wait(1)
        return language()
      }),
    ),
  )
  expect(heard).toEqual(['de', 'es', 'en'])
})

test('a text that is not in the catalogue stays English, its holes filled', () => {
  expect(inLanguage('de', () => say`${1} quinces, not ${2}, in no catalogue`)).toBe(
    '1 quinces, not 2, in no catalogue',
  )
  expect(inLanguage('de', () => said('in no catalogue'))).toBe('in no catalogue')
})
