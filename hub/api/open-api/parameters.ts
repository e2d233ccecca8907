/** What parameters mean where their schema does not say it: by name, and where it matters by address. */
const WORDS: readonly (readonly [path: RegExp, name: string, description: string])[] = [
  [/^\/api\/people\//, 'id', 'number of somebody with a password'],
  [/^\/api\/sessions\//, 'id', 'number of a session'],
  [/^\/api\/tokens\//, 'id', 'number of a token'],
  [/^\/api\/shares\//, 'id', 'number of a share link'],
  [/^\/api\/shared\//, 'key', 'the secret of the share link'],
  [/^\/api\/beds\//, 'id', 'number of the bed'],
  [/^\/api\/spots\//, 'id', 'number of the spot'],
  [/^\/api\/journal\//, 'id', 'number of the journal entry'],
  [/^\/api\/probes\//, 'id', 'id of the probe, such as heron1'],
  [/^\/api\/calibrations\//, 'id', 'number of the calibration'],
  [/^\/api\/trials\//, 'id', 'number of the trial'],
  [/^\/api\/soil-tests\//, 'id', 'number of the test of the soil'],
  [/^\/api\/plans\//, 'id', 'number of the plan'],
  [/^\/api\/alarms\//, 'id', 'number of the alarm'],
  [/^\/api\/message-routes\//, 'id', 'number of the route'],
  [/^\/api\/jobs\//, 'id', 'number of the job'],
  [/^\/api\/damaged\//, 'id', 'number of the damaged part'],
  [/^\/api\/(export|beds|journal|probes|shared)/, 'from', 'epoch milliseconds, inside'],
  [/^\/api\/(export|beds|journal|probes|shared)/, 'to', 'epoch milliseconds, outside'],
  [/\/series$/, 'quantity', 'what of the soil'],
  [/./, 'step', 'each reading as sent, or hours'],
  [/./, 'table', 'which records, as a file name'],
  [/./, 'limit', 'at most so many'],
  [/^\/api\/alarms/, 'bed', 'number of a bed: only its alarms'],
  [/^\/api\/alarms/, 'open', 'true: only those that are not back to normal'],
  [/^\/api\/alarms/, 'kind', 'only alarms of this kind'],
  [/^\/api\/alarms/, 'alarm', 'number of an alarm: only that one'],
  [/^\/api\/messages/, 'route', 'number of a route: only its messages'],
  [/^\/api\/storage/, 'months', 'raw readings older than so many months'],
  [/^\/api\/import\/look/, 'delimiter', 'what parts the columns; left out: guessed'],
]

/** The words for a parameter; undefined where nobody wrote any. */
export const parameterWords = (path: string, name: string): string | undefined =>
  WORDS.find(([of, named]) => named === name && of.test(path))?.[2]
