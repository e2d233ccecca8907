import { pino, type Level, type Logger } from 'pino'
import { plainText, quietJson } from './plain-text.ts'

/** Lines of a message after its first stand further in, so that none passes for another message. */
const SET_IN = '          '
const WORDS: Readonly<Record<number, string>> = {
  20: 'detail',
  40: 'NOTE',
  50: 'ERROR',
  60: 'ERROR',
}

/** One line of the log as a person reads it: the time of day, how urgent, what happened. */
function plain(line: string): string {
  const entry = JSON.parse(line) as {
    level: number
    time: number
    msg?: string
    err?: { stack?: string; message?: string }
  }
  const clock = new Date(entry.time).toLocaleTimeString('en-GB')
  const word = WORDS[entry.level]
  const text = [entry.msg, entry.err?.stack ?? entry.err?.message].filter(Boolean).join('\n')
  return `${clock}  ${word === undefined ? '' : `${word}: `}${plainText(text, SET_IN)}\n`
}

/**
 * The hub's log: sentences at a terminal, JSON lines where a program collects them. What probes and strangers say stands
 * in it; none of it begins a line of its own or moves the cursor.
 */
export function openLog(level: Level, terminal: boolean = process.stdout.isTTY): Logger {
  const hooks = { streamWrite: quietJson }
  if (!terminal) return pino({ level, hooks })
  return pino({ level }, { write: (line: string) => process.stdout.write(plain(line)) })
}
