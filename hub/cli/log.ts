import { pino, type Level, type Logger } from 'pino'

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
  return `${clock}  ${word === undefined ? '' : `${word}: `}${text}\n`
}

/** The hub's log: sentences at a terminal, JSON lines where a program collects them. */
export function openLog(level: Level, terminal: boolean = process.stdout.isTTY): Logger {
  if (!terminal) return pino({ level })
  return pino({ level }, { write: (line: string) => process.stdout.write(plain(line)) })
}
