/**
 * Lets the engine put what it needs for a while into a folder: a whole copy, when a file is written anew, which the
 * machine's own place for such things may be far too small for. It asks for that place once, before the first database
 * of the process is opened; a place that the environment names stays. Nothing is seen of these files: they have no name.
 *
 * Source: https://sqlite.org/tempfiles.html, section 5.
 */
export function keepTempFilesIn(folder: string): void {
  process.env['SQLITE_TMPDIR'] ||= folder
}
