/** Answers that are no JSON, and bodies that are files: by address and method. */
export const ANSWERS: Readonly<Record<string, { readonly type: string; readonly words: string }>> =
  {
    'get /api/live': { type: 'text/event-stream', words: 'a stream of events, until it is closed' },
    'get /api/journal/{id}/photo': { type: 'image/*', words: 'the picture as it was given' },
    'get /api/review.csv': { type: 'text/csv', words: 'a table, RFC 4180' },
    'get /api/report.csv': { type: 'text/csv', words: 'a table, RFC 4180' },
    'get /api/beds/{id}/report.csv': { type: 'text/csv', words: 'a table, RFC 4180' },
    'get /api/export/readings.csv': { type: 'text/csv', words: 'a table, RFC 4180' },
    'get /api/export/records/{table}': { type: 'text/csv', words: 'a table, RFC 4180' },
    'get /api/export/readings.lp': {
      type: 'text/plain',
      words: 'line protocol, one reading a line',
    },
    'get /api/calendar.ics': { type: 'text/calendar', words: 'a calendar, RFC 5545' },
    'get /api/alarms.atom': { type: 'application/atom+xml', words: 'a feed, RFC 4287' },
    'get /api/damaged/{id}/bytes': {
      type: 'application/octet-stream',
      words: 'the bytes as they were found',
    },
    'get /api/backup.tar': { type: 'application/x-tar', words: 'an archive of the data folder' },
  }

export const SENT: Readonly<Record<string, { readonly type: string; readonly words: string }>> = {
  'put /api/journal/{id}/photo': { type: 'image/*', words: 'a JPEG, PNG or WebP picture' },
  'post /api/import/look': { type: 'application/octet-stream', words: 'the beginning of the file' },
  'post /api/import/check': { type: 'application/octet-stream', words: 'the file' },
  'post /api/import/store': { type: 'application/octet-stream', words: 'the file' },
  'post /api/damaged/bring-back': { type: 'application/x-tar', words: 'the archive of a backup' },
}
